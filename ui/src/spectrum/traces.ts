// The trace of what is in view, asked for once the view rests, and given up when it moves again.
import { fetched, type Schemas } from '../api/client'
import type { View } from './view'

export type Trace = Schemas['SpectrumTrace']

/** So long a view must rest before its trace is asked for. */
const REST_MS = 90

export class Traces {
  #timer: ReturnType<typeof setTimeout> | undefined
  #under: AbortController | null = null
  #asked = ''

  constructor(readonly come: (trace: Trace | null) => void, readonly wrong: (error: unknown) => void) {}

  ask(path: string, view: View, points: number, percentile: number, atS: number | null): void {
    const query = new URLSearchParams({
      from_s: `${view.fromS}`, until_s: `${view.untilS}`, low_hz: `${view.lowHz}`, high_hz: `${view.highHz}`,
      points: `${Math.max(1, Math.min(4096, Math.round(points)))}`, percentile: `${percentile}`,
      ...(atS === null ? {} : { at_s: `${atS}` }),
    })
    const url = `${path}/trace?${query}`
    if (url === this.#asked) return
    this.#asked = url
    clearTimeout(this.#timer)
    this.#under?.abort()
    this.#timer = setTimeout(() => void this.#fetch(url), REST_MS)
  }

  stop(): void {
    clearTimeout(this.#timer)
    this.#under?.abort()
    this.#asked = ''
  }

  async #fetch(url: string): Promise<void> {
    const abort = new AbortController()
    this.#under = abort
    try {
      const trace = (await (await fetched(url, { signal: abort.signal })).json()) as Trace
      if (!abort.signal.aborted) this.come(trace)
    } catch (error) {
      if (abort.signal.aborted) return
      this.come(null)
      this.wrong(error)
    }
  }
}

/** The levels of one trace less those of another at the same frequencies; null where either has none. */
export function less(a: Trace, b: Trace, kind: 'mean' | 'max' | 'percentile' | 'now'): (number | null)[] {
  return a[kind].map((db, i) => {
    const hz = a.low_hz + (i + 0.5) * a.cell_hz
    const other = b[kind][Math.floor((hz - b.low_hz) / b.cell_hz)]
    return db === null || db === undefined || other === null || other === undefined ? null : db - other
  })
}
