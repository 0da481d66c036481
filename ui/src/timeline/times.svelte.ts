// On-times from the server: of the whole coarsely, and of what is looked at finely.
import { fetched, Refused } from '../api/client'
import type { Work } from '../lib/work.svelte'
import type { View } from './axis'
import type { OnTimes } from './lanes'

/** The most rows that one question may name. */
const ROWS = 200
const MOST_CELLS = 8000

export class Times {
  whole = $state.raw<Map<string, OnTimes> | null>(null)
  part = $state.raw<{ view: View; rows: Map<string, OnTimes> } | null>(null)
  /** Whether the program tells on-times. */
  told = $state(true)

  covers(view: View): boolean {
    const part = this.part?.view
    if (!part) return false
    const span = view.to - view.from
    // Much farther out, what is fine would be too much; much nearer, too coarse.
    return part.from <= view.from && part.to >= view.to && part.to - part.from < span * 6
  }

  /** Reads the whole when the survey changes. For an `$effect`. */
  follow(work: Work, ids: string[], _version: number): () => void {
    const stop = new AbortController()
    if (!this.told) return () => {}
    void ask(work, ids, '', stop.signal).then((rows) => {
      if (!stop.signal.aborted) [this.whole, this.told] = [rows, rows !== null]
    })
    return () => stop.abort()
  }

  /** Reads what is looked at, and as much on both sides, once it is looked at for a moment. */
  look(work: Work, ids: string[], view: View, width: number): () => void {
    const stop = new AbortController()
    const later = setTimeout(() => {
      if (!this.told || this.covers(view)) return
      const span = view.to - view.from
      const wide = { from: view.from - span, to: view.to + span }
      const cells = Math.min(MOST_CELLS, Math.ceil(width * 3))
      const query = `&from=${new Date(wide.from).toISOString()}&until=${new Date(wide.to).toISOString()}&cells=${cells}`
      void ask(work, ids, query, stop.signal).then((rows) => {
        if (rows && !stop.signal.aborted) this.part = { view: wide, rows }
      })
    }, 200)
    return () => {
      clearTimeout(later)
      stop.abort()
    }
  }
}

async function ask(work: Work, ids: string[], query: string, signal: AbortSignal): Promise<Map<string, OnTimes> | null> {
  const out = new Map<string, OnTimes>()
  try {
    for (let n = 0; n < ids.length; n += ROWS) {
      const some = ids.slice(n, n + ROWS).join(',')
      const answer = await fetched(`/api/surveys/${encodeURIComponent(work.name)}/on-times?ids=${some}${query}`, { signal })
      for (const row of (await answer.json()) as OnTimes[]) out.set(row.id, row)
    }
    return out
  } catch (error) {
    if (error instanceof Refused || error instanceof DOMException || error instanceof SyntaxError) return null
    throw error
  }
}
