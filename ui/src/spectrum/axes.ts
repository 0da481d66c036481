// The axes of the plot, as print: levels, frequencies with what was left out, allocations, times.
import { clock } from '../lib/clock'
import { receivedIn } from './axis'
import { fitted, levelY, snap, stroke, text, topOf, widthOf, xAt, yAt, type Pen } from './pen'
import { decimalsOf, hertzLabels, ticks, timeTicks, unitOf } from './view'

export function levelAxis(p: Pen): void {
  const { layout, levels, colour } = p
  const { at, step } = ticks(levels[0], levels[1], Math.max(2, Math.round(layout.trace / 30)))
  const end = layout.width - layout.right
  for (const db of at) {
    const y = snap(levelY(p, db))
    stroke(p, colour.line, [layout.left, y, end, y])
    if (y > 20) text(p, db.toFixed(decimalsOf(step)).replace('-', '−'), layout.left - 8, y + 4, colour.faint, 'right')
  }
  text(p, p.difference ? 'dB' : p.spectrum.unit, layout.left - 8, 14, colour.faint, 'right')
}

export function frequencyAxis(p: Pen): void {
  const { layout, view, spectrum, colour } = p
  const y = snap(layout.trace)
  const right = layout.width - layout.right
  const { unit, scale } = unitOf(p.axis.length > 0 ? (p.axis[0]?.highHz ?? 0) : Math.max(Math.abs(view.lowHz), Math.abs(view.highHz)))
  let free = -Infinity
  for (const part of receivedIn(p.axis, view.lowHz, view.highHz)) {
    const [from, until] = [xAt(p, part.lowHz), xAt(p, part.highHz)]
    stroke(p, colour.under, [from, y, until, y])
    const { at, step } = ticks(part.lowHz, part.highHz, Math.max(1, Math.floor((until - from) / (p.axis.length > 0 ? 84 : 110))))
    const words = hertzLabels(at, step, scale)
    // Too narrow for ticks: the band is named by its middle.
    const narrow = p.axis.length > 0 && (until - from < 130 || at.length < 2)
    const middle = (part.lowHz + part.highHz) / 2
    const marks: [number, string][] = narrow ? [[middle, bandWords(p, part, scale, until - from)]] : at.map((hz, i) => [hz, words[i] ?? ''])
    for (const [hz, label] of marks) {
      const x = snap(xAt(p, hz))
      if (!narrow) stroke(p, colour.under, [x, y, x, y + 5])
      const wide = widthOf(p, label)
      if (x - wide / 2 < free || x + wide / 2 > right + (p.axis.length > 0 ? 4 : 30)) continue
      text(p, label, x, y + 19, colour.ink, 'center')
      free = x + wide / 2 + 6
    }
  }
  text(p, spectrum.centre_known ? unit : `${unit} offset`, right + (p.axis.length > 0 ? 8 : 34), y + 19, colour.faint)
  gaps(p)
}

function bandWords(p: Pen, part: { lowHz: number; highHz: number }, scale: number, wide: number): string {
  const of = (hz: number, decimals: number) => (hz / scale).toFixed(decimals).replace(/\.0+$/, '')
  const middle = (part.lowHz + part.highHz) / 2
  return fitted(p, [`${of(part.lowHz, 1)}–${of(part.highHz, 1)}`, of(middle, 1)], wide) ?? of(middle, 0)
}

/** What was not received, as a blank strip with both ends of the axis broken off. */
function gaps(p: Pen): void {
  const { layout, view, colour } = p
  const [left, right] = [layout.left, layout.width - layout.right]
  const y = snap(layout.trace)
  for (const piece of p.axis) {
    if (piece.received || piece.highHz <= view.lowHz || piece.lowHz >= view.highHz) continue
    const [from, until] = [Math.max(left, xAt(p, piece.lowHz)), Math.min(right, xAt(p, piece.highHz))]
    for (const [a, b] of [[0, layout.trace], [topOf(layout), layout.height]] as const) {
      p.context.fillStyle = colour.paper
      p.context.fillRect(from, a, until - from, b - a)
    }
    for (const x of [from, until]) if (x > left && x < right) stroke(p, colour.under, [x - 2, y + 5, x + 2, y - 5])
    const words = fitted(p, ['not received', '…'], until - from - 8)
    if (words && until - from > 40) text(p, words, (from + until) / 2, layout.trace / 2, colour.faint, 'center')
  }
}

/** Allocations as strokes along the axis, each named where its name fits; three deep at most. */
export function allocations(p: Pen): void {
  const { layout, strips, view, colour } = p
  if (layout.strips === 0) return
  const lanes: number[] = [-Infinity, -Infinity, -Infinity]
  const end = layout.width - layout.right
  const seen = strips.filter((s) => s.high_hz > view.lowHz && s.low_hz < view.highHz)
  for (const strip of seen) {
    // Only as far as something was received in it.
    const parts = receivedIn(p.axis, Math.max(strip.low_hz, view.lowHz), Math.min(strip.high_hz, view.highHz))
    const [first, last] = [parts[0], parts.at(-1)]
    if (!first || !last) continue
    const from = Math.max(xAt(p, first.lowHz), layout.left)
    const until = Math.min(xAt(p, last.highHz), end)
    if (until - from < 2) continue
    const lane = lanes.findIndex((used) => used <= from - 3)
    if (lane < 0) continue
    lanes[lane] = until
    const y = snap(layout.trace + layout.axis + lane * 16 + 12)
    stroke(p, colour.under, [from, y, until, y], [snap(from), y - 3, snap(from), y + 3], [snap(until) - 1, y - 3, snap(until) - 1, y + 3])
    const words = fitted(p, strip.what ? [`${strip.service}: ${strip.what}`, strip.what, strip.service] : [strip.service], until - from - 12)
    if (!words) continue
    const wide = widthOf(p, words)
    p.context.fillStyle = colour.paper
    p.context.fillRect((from + until - wide) / 2 - 4, y - 8, wide + 8, 16)
    text(p, words, (from + until) / 2, y + 4, colour.faint, 'center')
  }
}

export function timeAxis(p: Pen): void {
  const { layout, view, spectrum, zone, colour } = p
  const top = topOf(layout)
  const { at, step } = timeTicks(view.fromS, view.untilS, Math.max(2, Math.floor((layout.height - top) / 56)))
  const start = spectrum.start && step >= 1 ? Date.parse(spectrum.start) : null
  // On round times of the clock, where it is known.
  const offset = start === null ? 0 : (start / 1000) % step
  for (const s of at.map((s) => s - offset).concat(at.slice(-1).map((s) => s - offset + step))) {
    if (s < view.fromS || s > view.untilS) continue
    const y = yAt(p, s)
    stroke(p, colour.under, [layout.left - 5, snap(y), layout.left, snap(y)])
    const words = start === null ? `${s.toFixed(decimalsOf(step)).replace('-', '−')} s` : clock(Math.round(start + s * 1000), zone)
    if (y > top + 6 && y < layout.height - 2) text(p, words, layout.left - 8, y + 4, colour.faint, 'right')
  }
}
