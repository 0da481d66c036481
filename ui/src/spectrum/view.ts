// The arithmetic of what is in view: hertz across, along an axis that may leave gaps out; seconds downward.
import { along, hzOf, STRAIGHT, type Axis } from './axis'

export type View = { lowHz: number; highHz: number; fromS: number; untilS: number }
/** All that there is, and the least that may be shown. */
export type Bounds = View & { leastHz: number; leastS: number; axis?: Axis }

/** How many hertz of the axis are in view: all of them, but gaps are narrower than they are wide. */
export const spanOf = (view: Pick<View, 'lowHz' | 'highHz'>, axis: Axis = STRAIGHT) => along(axis, view.highHz) - along(axis, view.lowHz)

/** Zooms by factors (under 1: closer) about a place given as fractions of the view. */
export function zoomed(view: View, atX: number, atY: number, byX: number, byY: number, within: Bounds): View {
  const axis = within.axis ?? STRAIGHT
  const [low, high] = scaled(along(axis, view.lowHz), along(axis, view.highHz), atX, byX, within.leastHz)
  const [fromS, untilS] = scaled(view.fromS, view.untilS, atY, byY, within.leastS)
  return kept({ lowHz: hzOf(axis, low), highHz: hzOf(axis, high), fromS, untilS }, within)
}

function scaled(from: number, to: number, at: number, by: number, least: number): [number, number] {
  const span = to - from
  const wanted = Math.max(span * by, Math.min(least, span))
  const start = from + at * (span - wanted)
  return [start, start + wanted]
}

/** Moves by fractions of the view. */
export function moved(view: View, byX: number, byY: number, within: Bounds): View {
  const axis = within.axis ?? STRAIGHT
  const [low, high] = [along(axis, view.lowHz), along(axis, view.highHz)]
  const dx = byX * (high - low)
  const dy = byY * (view.untilS - view.fromS)
  // Kept along the axis, so that what is in view stays as wide.
  const [from, to] = inside(low + dx, high + dx, along(axis, within.lowHz), along(axis, within.highHz))
  return kept({ lowHz: hzOf(axis, from), highHz: hzOf(axis, to), fromS: view.fromS + dy, untilS: view.untilS + dy }, within)
}

/** The view, no larger than all there is and inside it. */
export function kept(view: View, within: Bounds): View {
  const axis = within.axis ?? STRAIGHT
  const [low, high] = inside(along(axis, view.lowHz), along(axis, view.highHz), along(axis, within.lowHz), along(axis, within.highHz))
  const [fromS, untilS] = inside(view.fromS, view.untilS, within.fromS, within.untilS)
  return { lowHz: hzOf(axis, low), highHz: hzOf(axis, high), fromS, untilS }
}

function inside(from: number, to: number, low: number, high: number): [number, number] {
  const span = to - from
  if (span >= high - low) return [low, high]
  const start = Math.min(Math.max(from, low), high - span)
  return [start, start + span]
}

/** So many hertz of the axis about a frequency, the time as it was. */
export function about(view: View, hz: number, span: number, within: Bounds): View {
  const axis = within.axis ?? STRAIGHT
  const at = along(axis, hz)
  return kept({ ...view, lowHz: hzOf(axis, at - span / 2), highHz: hzOf(axis, at + span / 2) }, within)
}

export const all = (within: Bounds): View => ({
  lowHz: within.lowHz, highHz: within.highHz, fromS: within.fromS, untilS: within.untilS,
})

export const xOf = (view: View, hz: number, width: number, axis: Axis = STRAIGHT) =>
  ((along(axis, hz) - along(axis, view.lowHz)) / spanOf(view, axis)) * width
export const hzAt = (view: View, x: number, width: number, axis: Axis = STRAIGHT) =>
  hzOf(axis, along(axis, view.lowHz) + (x / width) * spanOf(view, axis))
export const yOf = (view: View, s: number, height: number) => ((s - view.fromS) / (view.untilS - view.fromS)) * height
export const sAt = (view: View, y: number, height: number) => view.fromS + (y / height) * (view.untilS - view.fromS)

/** Round numbers within a span, at most so many: steps of 1, 2 or 5 times a power of ten. */
export function ticks(from: number, to: number, most: number): { at: number[]; step: number } {
  const span = to - from
  if (!(span > 0) || most < 1) return { at: [], step: 0 }
  const raw = span / most
  const power = 10 ** Math.floor(Math.log10(raw))
  const step = power * ([1, 2, 5, 10].find((m) => m * power >= raw * (1 - 1e-9)) ?? 10)
  const at: number[] = []
  const first = Math.ceil(from / step - 1e-9)
  for (let n = first; n * step <= to + step * 1e-9 && at.length <= most + 1; n++) at.push(n * step)
  return { at, step }
}

/** Seconds people count by: under a second as `ticks`, above in parts of minutes, hours, days. */
export function timeTicks(from: number, to: number, most: number): { at: number[]; step: number } {
  const steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400]
  const raw = (to - from) / Math.max(most, 1)
  const step = raw < 1 ? 0 : steps.find((s) => s >= raw)
  if (!step) return ticks(from, to, most)
  const at: number[] = []
  for (let n = Math.ceil(from / step - 1e-9); n * step <= to + 1e-9; n++) at.push(n * step)
  return { at, step }
}

/** The unit that suits a frequency, and how many hertz it is. */
export function unitOf(hz: number): { unit: string; scale: number } {
  const [scale, unit] = hz >= 1e9 ? [1e9, 'GHz'] : hz >= 1e6 ? [1e6, 'MHz'] : hz >= 1e3 ? [1e3, 'kHz'] : [1, 'Hz']
  return { unit: unit as string, scale: scale as number }
}

/** Ticks in a unit of so many hertz, with as many decimals as their step needs. */
export function hertzLabels(at: number[], step: number, scale: number): string[] {
  const decimals = decimalsOf(step / scale)
  return at.map((hz) => signed((hz / scale).toFixed(decimals)))
}

export function decimalsOf(step: number): number {
  return Math.max(0, Math.min(12, -Math.floor(Math.log10(step) + 1e-9)))
}

const signed = (text: string) => text.replace('-', '−')
