// Frequencies along the page. Where a receiver stepped between bands far apart, the axis is broken: the
// bands stand side by side, each to scale, and a gap that nothing was received in is a narrow strip. One
// counts along it in hertz that were received; without gaps that is the frequency itself.
import type { Spectrum } from './levels'

/** A stretch of frequencies and how much of the axis it takes; a gap takes less than its width. */
export type Piece = { lowHz: number; highHz: number; at: number; span: number; received: boolean }
/** By frequency, each beginning where the one before it ends; empty: nothing is left out. */
export type Axis = readonly Piece[]
export const STRAIGHT: Axis = []

/** A gap takes so much of what was received, less where there are many. */
const GAP = { most: 0.03, least: 0.004, all: 0.16 }

/** The bands that were recorded, joined where they touch, by frequency. */
export function bandsOf(of: Pick<Spectrum, 'segments'>): { low_hz: number; high_hz: number }[] {
  const bands: { low_hz: number; high_hz: number }[] = []
  for (const one of [...of.segments].sort((a, b) => a.low_hz - b.low_hz)) {
    const last = bands.at(-1)
    if (last && one.low_hz <= last.high_hz * (1 + 1e-9)) last.high_hz = Math.max(last.high_hz, one.high_hz)
    else bands.push({ low_hz: one.low_hz, high_hz: one.high_hz })
  }
  return bands
}

/** The axis of a recording: broken at every gap that would take more than its strip. */
export function axisOf(of: Pick<Spectrum, 'segments'>): Axis {
  const bands = bandsOf(of)
  const all = bands.reduce((sum, one) => sum + one.high_hz - one.low_hz, 0)
  const strip = all * Math.min(GAP.most, Math.max(GAP.least, GAP.all / bands.length))
  const pieces: Piece[] = []
  let at = bands[0]?.low_hz ?? 0
  const put = (lowHz: number, highHz: number, span: number, received: boolean) => {
    pieces.push({ lowHz, highHz, at, span, received })
    at += span
  }
  for (const one of bands) {
    const last = pieces.at(-1)
    if (last) put(last.highHz, one.low_hz, Math.min(one.low_hz - last.highHz, strip), false)
    put(one.low_hz, one.high_hz, one.high_hz - one.low_hz, true)
  }
  return pieces.some((one) => one.span < one.highHz - one.lowHz) ? pieces : STRAIGHT
}

/** Where a frequency lies along the axis. Beyond its ends it goes on as it was. */
export function along(axis: Axis, hz: number): number {
  const one = pieceBy(axis, (piece) => piece.lowHz <= hz)
  if (!one) return hz
  const over = hz - one.lowHz
  const wide = one.highHz - one.lowHz
  return one.at + (over > wide || over < 0 ? over - (over < 0 ? 0 : wide - one.span) : (over / wide) * one.span)
}

/** The frequency at a place of the axis. */
export function hzOf(axis: Axis, at: number): number {
  const one = pieceBy(axis, (piece) => piece.at <= at)
  if (!one) return at
  const over = at - one.at
  const wide = one.highHz - one.lowHz
  return one.lowHz + (over > one.span || over < 0 ? over + (over < 0 ? 0 : wide - one.span) : (over / one.span) * wide)
}

/** The last piece that a test holds for, or the first; none on a straight axis. */
function pieceBy(axis: Axis, holds: (piece: Piece) => boolean): Piece | undefined {
  let [from, to] = [0, axis.length]
  while (to - from > 1) {
    const middle = (from + to) >> 1
    if (holds(axis[middle]!)) from = middle
    else to = middle
  }
  return axis[from]
}

/** The stretches of a span that were received; the whole of it on a straight axis. */
export function receivedIn(axis: Axis, lowHz: number, highHz: number): { lowHz: number; highHz: number }[] {
  if (axis.length === 0) return [{ lowHz, highHz }]
  return axis.filter((one) => one.received && one.highHz > lowHz && one.lowHz < highHz)
    .map((one) => ({ lowHz: Math.max(one.lowHz, lowHz), highHz: Math.min(one.highHz, highHz) }))
}

/** Whether a frequency lies in a gap. */
export function gapAt(axis: Axis, hz: number): Piece | null {
  const one = pieceBy(axis, (piece) => piece.lowHz <= hz)
  return one && !one.received && hz > one.lowHz && hz < one.highHz ? one : null
}
