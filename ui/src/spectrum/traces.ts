// The trace of what is in view, asked for once the view rests, and given up when it moves again: one for
// each stretch that was received.
import { fetched, type Schemas } from '../api/client'
import { receivedIn, type Axis } from './axis'
import { spanOf, type View } from './view'

/** By frequency, a part for each stretch. */
export type Trace = Schemas['SpectrumTrace'][]
export type Kind = 'now' | 'mean' | 'max' | 'percentile'
/** Levels of neighbouring cells. */
export type Part = { lowHz: number; cellHz: number; levels: (number | null)[] }

/** So long a view must rest before its trace is asked for. */
const REST_MS = 90
/** Requests under way at once. */
const AT_ONCE = 3

export type Asked = { path: string; view: View; axis: Axis; points: number; percentile: number; atS: number | null }

export class Traces {
  #timer: ReturnType<typeof setTimeout> | undefined
  #under: AbortController | null = null
  #asked = ''

  constructor(readonly come: (trace: Trace | null) => void, readonly wrong: (error: unknown) => void) {}

  /** Asks for the trace of a view; `span` of time where it is another than the view's. */
  ask({ path, view, axis, points, percentile, atS }: Asked, span?: { fromS: number; untilS: number }): void {
    const { fromS, untilS } = span ?? view
    const per = Math.min(4096, points) / spanOf(view, axis)
    const urls = receivedIn(axis, view.lowHz, view.highHz).map(({ lowHz, highHz }) => {
      const query = new URLSearchParams({
        from_s: `${fromS}`, until_s: `${untilS}`, low_hz: `${lowHz}`, high_hz: `${highHz}`,
        points: `${Math.max(2, Math.min(4096, Math.round((highHz - lowHz) * per)))}`, percentile: `${percentile}`,
        ...(atS === null ? {} : { at_s: `${atS}` }),
      })
      return `${path}/trace?${query}`
    })
    const asked = urls.join()
    if (asked === this.#asked) return
    this.stop()
    this.#asked = asked
    this.#timer = setTimeout(() => void this.#fetch(urls), REST_MS)
  }

  stop(): void {
    clearTimeout(this.#timer)
    this.#under?.abort()
    this.#asked = ''
  }

  async #fetch(urls: string[]): Promise<void> {
    const abort = new AbortController()
    this.#under = abort
    const parts: Trace = []
    let next = 0
    const each = async (): Promise<void> => {
      for (let n = next++; n < urls.length; n = next++) {
        parts[n] = (await (await fetched(urls[n] ?? '', { signal: abort.signal })).json()) as Schemas['SpectrumTrace']
      }
    }
    try {
      await Promise.all(Array.from({ length: AT_ONCE }, each))
      if (!abort.signal.aborted) this.come(parts)
    } catch (error) {
      if (abort.signal.aborted) return
      abort.abort()
      this.come(null)
      this.wrong(error)
    }
  }
}

export const partsOf = (trace: Trace, kind: Kind): Part[] =>
  trace.map((one) => ({ lowHz: one.low_hz, cellHz: one.cell_hz, levels: one[kind] }))

/** The level at a frequency; null where there is none. */
export function levelAt(parts: readonly Part[], hz: number): number | null {
  const part = parts.find((one) => hz >= one.lowHz && hz < one.lowHz + one.levels.length * one.cellHz)
  return part?.levels[Math.floor((hz - part.lowHz) / part.cellHz)] ?? null
}

/** The levels of one trace less those of another at the same frequencies; null where either has none. */
export function less(a: readonly Part[], b: readonly Part[]): Part[] {
  return a.map((part) => ({
    ...part,
    levels: part.levels.map((db, i) => {
      const other = levelAt(b, part.lowHz + (i + 0.5) * part.cellHz)
      return db === null || other === null ? null : db - other
    }),
  }))
}
