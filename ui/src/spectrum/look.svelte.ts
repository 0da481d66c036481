// One recording as it is looked at: what there is, what is in view, its trace, what is laid under it, and
// where the cursor stands. For a component's script: it has effects of its own.
import { fetched, Refused } from '../api/client'
import { along, axisOf, gapAt, hzOf, STRAIGHT } from './axis'
import type { Line } from './pen'
import type { Spectrum } from './levels'
import { less, partsOf, Traces, type Kind, type Trace } from './traces'
import { all, hzAt, moved, spanOf, xOf, yOf, zoomed, type Bounds, type View } from './view'

export const KINDS: { kind: Kind; title: string }[] = [
  { kind: 'now', title: 'Now' }, { kind: 'mean', title: 'Mean' }, { kind: 'max', title: 'Max' }, { kind: 'percentile', title: 'Percentile' },
]
/** What is laid under: where its spectrum is, how it is called, whether its levels compare. */
export type Under = { path: string; name: string; comparable: boolean }
/** A place on the plot; on the trace it has no time. */
export type Cursor = { hz: number; s: number | null; byKeys: boolean }

export class Look {
  spectrum = $state.raw<Spectrum | null>(null)
  problem = $state.raw<Refused['problem'] | null>(null)
  view = $state.raw<View | null>(null)
  trace = $state.raw<Trace | null>(null)
  underneath = $state.raw<Trace | null>(null)
  shown = $state<Record<Kind, boolean>>({ now: false, mean: true, max: true, percentile: false })
  percentile = $state(50)
  difference = $state(false)
  /** The moment that `now` is of. */
  atS = $state<number | null>(null)
  /** How many pixels the trace has. */
  points = $state(0)
  cursor = $state.raw<Cursor | null>(null)

  readonly axis = $derived(this.spectrum ? axisOf(this.spectrum) : STRAIGHT)
  readonly within = $derived<Bounds | null>(this.spectrum && {
    lowHz: this.spectrum.low_hz, highHz: this.spectrum.high_hz, fromS: 0, untilS: Math.max(this.spectrum.duration_s, 1e-9),
    leastHz: 16 * (this.spectrum.levels[0]?.cell_hz ?? 1),
    leastS: 16 * this.spectrum.row_s * 2 ** Math.min(0, ...this.spectrum.levels.map((one) => one.time_levels[0] ?? 0)),
    axis: this.axis,
  })
  /** Whether this and what is laid under it are known in like bandwidths. */
  readonly alike = $derived.by(() => {
    const [a, b] = [this.trace?.[0]?.noise_bandwidth_hz, this.underneath?.[0]?.noise_bandwidth_hz]
    return !!this.trace && !!this.underneath && (a === b || Math.abs(Math.log2((a ?? 1) / (b ?? 1))) < 0.1)
  })
  readonly differs = $derived.by(() => this.difference && !!this.under()?.comparable && this.alike)
  readonly lines = $derived.by<Line[]>(() => {
    const { trace, underneath } = this
    if (!trace) return []
    const kinds = KINDS.map(({ kind }) => kind).filter((kind) => this.shown[kind])
    const titled = (kind: Kind) => (kind === 'percentile' ? `${this.percentile} %` : kind)
    const timeless = kinds.filter((kind) => kind !== 'now')
    if (this.differs && underneath) {
      return timeless.map((kind) => ({ label: titled(kind), parts: less(partsOf(trace, kind), partsOf(underneath, kind)), under: false }))
    }
    const below = underneath ? timeless.slice(-1).map((kind) => ({ label: `${this.under()?.name ?? ''} ${titled(kind)}`, parts: partsOf(underneath, kind), under: true })) : []
    return [...below, ...kinds.map((kind) => ({ label: titled(kind), parts: partsOf(trace, kind), under: false }))]
  })
  /** Levels at the lower and upper edge of the trace, in steps of five, so that the axis rests while one pans. */
  readonly range = $derived.by<[number, number]>(() => {
    let [low, high] = [Infinity, -Infinity]
    for (const line of this.lines) {
      for (const { levels } of line.parts) {
        for (const db of levels) if (db !== null) [low, high] = [Math.min(low, db), Math.max(high, db)]
      }
    }
    if (low > high) return this.differs ? [-10, 30] : [this.spectrum?.floor_db ?? -120, this.spectrum?.ceiling_db ?? 0]
    const pad = Math.max(3, (high - low) * 0.08)
    return [Math.floor((low - pad) / 5) * 5, Math.ceil((high + pad) / 5) * 5]
  })

  constructor(readonly path: () => string | undefined, readonly under: () => Under | null) {
    const own = new Traces((found) => (this.trace = found), this.wrong)
    const other = new Traces((found) => (this.underneath = found), () => (this.underneath = null))
    $effect(() => this.#read(path()))
    $effect(() => {
      const { view, axis, points, percentile, atS } = this
      const from = path()
      if (from && view && points > 0) own.ask({ path: from, view, axis, points, percentile, atS })
    })
    $effect(() => {
      const { view, axis, points, percentile } = this
      const base = under()?.path
      if (base && view && points > 0) {
        // All that it recorded, in the band in view.
        other.ask({ path: base, view, axis, points, percentile, atS: null }, { fromS: 0, untilS: 1e9 })
        return
      }
      other.stop()
      this.underneath = null
    })
    $effect(() => () => {
      own.stop()
      other.stop()
    })
  }

  #read(from: string | undefined): () => void {
    const abort = new AbortController()
    this.spectrum = this.view = this.trace = this.underneath = this.problem = this.cursor = null
    this.atS = null
    if (from) {
      fetched(from, { signal: abort.signal }).then(async (answer) => (this.spectrum = (await answer.json()) as Spectrum))
        .catch((error: unknown) => abort.signal.aborted || this.wrong(error))
    }
    return () => abort.abort()
  }

  wrong = (error: unknown): void => {
    if (!(error instanceof Refused)) throw error
    this.problem = error.problem
  }

  /** Zooms about the cursor where it is in view, else about the middle. */
  zoom(byX: number, byY: number): void {
    const { view, within } = this
    if (!view || !within) return
    const { fx, fy } = this.cursorIn(view)
    this.view = zoomed(view, fx ?? 0.5, fy ?? 0.5, byX, byY, within)
  }
  pan(byX: number, byY: number): void {
    if (this.view && this.within) this.view = moved(this.view, byX, byY, this.within)
  }
  whole(): void {
    if (this.within) this.view = all(this.within)
  }

  /** Where the cursor is, as fractions of a view; null outside it, or where it has no time. */
  cursorIn(view: View): { fx: number | null; fy: number | null } {
    if (!this.cursor) return { fx: null, fy: null }
    const inside = (part: number) => (part >= 0 && part <= 1 ? part : null)
    const { hz, s } = this.cursor
    return { fx: inside(xOf(view, hz, 1, this.axis)), fy: s === null ? null : inside(yOf(view, s, 1)) }
  }

  /** Moves the cursor by steps along frequency and time, from the middle where there was none; what is in
   * view follows it. Finely: by a pixel, or by a cell where that is more. */
  step(byX: number, byY: number, fine: boolean): void {
    const { view, within, axis } = this
    if (!view || !within) return
    const { fx, fy } = this.cursorIn(view)
    const [wide, tall] = [spanOf(view, axis), view.untilS - view.fromS]
    const stepX = fine ? Math.max(wide / Math.max(this.points, 1), this.trace?.[0]?.cell_hz ?? 0) : wide / 48
    let hz = hzOf(axis, along(axis, fx === null ? hzAt(view, 0.5, 1, axis) : this.cursor!.hz) + byX * stepX)
    const gap = gapAt(axis, hz)
    if (gap && byX !== 0) hz = byX > 0 ? gap.highHz : gap.lowHz
    const s = (fy === null ? (view.fromS + view.untilS) / 2 : this.cursor!.s!) + byY * tall / (fine ? 400 : 32)
    this.put(Math.min(Math.max(hz, within.lowHz), within.highHz), Math.min(Math.max(s, 0), within.untilS))
  }

  /** Sets the cursor down, and brings it into view. */
  put(hz: number, s: number): void {
    const { view, within, axis } = this
    if (!view || !within) return
    this.cursor = { hz, s, byKeys: true }
    const over = (part: number) => (part < 0 ? part - 0.2 : part > 1 ? part - 0.8 : 0)
    this.view = moved(view, over(xOf(view, hz, 1, axis)), over(yOf(view, s, 1)), within)
  }
}
