// The lines of the page, drawn as print: trace, axes, allocations, emissions. One canvas over all.
import { clock } from '../lib/clock'
import { hertz } from '../lib/words'
import { allocations, frequencyAxis, levelAxis, timeAxis } from './axes'
import { spanOf, decimalsOf, type View } from './view'
import { gapAt, type Axis } from './axis'
import type { Spectrum } from './levels'
import { across, levelY, penOn, snap, stroke, text, topOf, widthOf, xAt, yAt, type Ink, type Line, type Pen } from './pen'

export function drawInk(canvas: HTMLCanvasElement, ink: Ink): void {
  const p = penOn(canvas, ink)
  if (!p) return
  levelAxis(p)
  selection(p)
  ink.lines.forEach((line) => drawLine(p, line))
  frequencyAxis(p)
  lineLabels(p)
  markEmissions(p)
  allocations(p)
  timeAxis(p)
  burstMarks(p)
}

/** A line through the largest and least of the cells that share a pixel: nothing narrow is lost. */
function drawLine(p: Pen, line: Line): void {
  const { layout, context } = p
  context.save()
  context.beginPath()
  context.rect(layout.left, 0, across(p), layout.trace)
  context.clip()
  context.strokeStyle = line.under ? p.colour.under : p.colour.ink
  context.lineWidth = line.under ? 1 : 1.25
  context.beginPath()
  for (const part of line.parts) {
    let drawing = false
    part.levels.forEach((db, i) => {
      if (db === null) {
        drawing = false
        return
      }
      const x = xAt(p, part.lowHz + (i + 0.5) * part.cellHz)
      if (drawing) context.lineTo(x, levelY(p, db))
      else context.moveTo(x, levelY(p, db))
      drawing = true
    })
  }
  context.stroke()
  context.restore()
}

/** Each line is named where it ends, apart from the others. */
function lineLabels(p: Pen): void {
  const { layout, view } = p
  let free = 12
  const ends = p.lines.map((line) => {
    const part = line.parts.at(-1)
    const seen = part?.levels.filter((db, i) => db !== null && part.lowHz + i * part.cellHz <= view.highHz).slice(-40) ?? []
    const sorted = (seen as number[]).sort((a, b) => a - b)
    return { line, y: levelY(p, sorted[sorted.length >> 1] ?? p.levels[0]) }
  })
  ends.sort((a, b) => a.y - b.y).forEach(({ line, y }, n) => {
    // Room is kept for those that follow.
    free = Math.max(free, Math.min(y + 4, layout.trace - 4 - 15 * (ends.length - 1 - n)))
    text(p, line.label, layout.width - layout.right + 6, free, line.under ? p.colour.faint : p.colour.ink)
    free += 15
  })
}

function selection(p: Pen): void {
  const { layout, marks, selected } = p
  const mark = marks.find((one) => one.id === selected)
  if (!mark) return
  const [from, until] = [xAt(p, mark.low_hz), xAt(p, mark.high_hz)]
  p.context.setLineDash([4, 4])
  for (const x of new Set([snap(from) - 1, snap(until)])) {
    if (x >= layout.left && x <= layout.width - layout.right) {
      stroke(p, p.colour.accent, [x, 0, x, layout.trace], [x, topOf(layout), x, layout.height])
    }
  }
  p.context.setLineDash([])
}

/** A bracket over the band of each emission, with its id where there is room. */
function markEmissions(p: Pen): void {
  const { layout, marks, selected, colour } = p
  let free = -Infinity
  const end = layout.width - layout.right
  // The selected one last: it is written over its neighbours.
  for (const mark of marks.toSorted((a, b) => Number(a.id === selected) - Number(b.id === selected))) {
    const [from, until] = [xAt(p, mark.low_hz), xAt(p, mark.high_hz)]
    if (until < layout.left || from > end) continue
    const [a, b] = [snap(Math.max(from, layout.left)), snap(Math.min(Math.max(until, from + 2), end))]
    const mine = mark.id === selected
    const own = mine || mark.open ? colour.accent : colour.ink
    p.context.lineWidth = mine ? 2 : 1
    stroke(p, own, [a, 20, b, 20], [a, 20, a, 25], [b, 20, b, 25])
    p.context.lineWidth = 1
    const label = [mark.label, mark.id].find((words) => mine || middleOf(p, a, b, words) - widthOf(p, words) / 2 > free)
    if (!label) continue
    const wide = widthOf(p, label)
    const middle = middleOf(p, a, b, label)
    if (mine) {
      p.context.fillStyle = colour.paper
      p.context.fillRect(middle - wide / 2 - 4, 2, wide + 8, 15)
    }
    text(p, label, middle, 14, own, 'center')
    free = middle + wide / 2 + 8
  }
}

function middleOf(p: Pen, a: number, b: number, words: string): number {
  const half = widthOf(p, words) / 2
  return Math.min(Math.max((a + b) / 2, p.layout.left + half), p.layout.width - p.layout.right - half)
}

/** When the selected emission was on, along the right edge of the spectrogram: 3 pixels at least each. */
function burstMarks(p: Pen): void {
  const x = p.layout.width - p.layout.right + 4
  for (const one of p.bursts) {
    if (one.untilS < p.view.fromS || one.fromS > p.view.untilS) continue
    const from = Math.max(yAt(p, one.fromS), topOf(p.layout))
    const until = Math.min(Math.max(yAt(p, one.untilS), from + 3), p.layout.height)
    p.context.fillStyle = one.chosen ? p.colour.accent : p.colour.ink
    p.context.fillRect(x, from, one.chosen ? 9 : 5, until - from)
  }
}

/** Where the cursor is, in words. */
export function placeWords(hz: number, s: number | null, of: Spectrum, view: View, width: number, zone: string, axis: Axis): string {
  const step = spanOf(view, axis) / width
  const figures = Math.max(4, Math.ceil(Math.log10(Math.max(Math.abs(hz), 1) / Math.max(step, 1e-3))) + 1)
  const gap = gapAt(axis, hz)
  const place = gap ? `${hertz(gap.lowHz)} – ${hertz(gap.highHz)}: not received` : hertz(hz, Math.min(figures, 12))
  if (s === null) return place
  const decimals = Math.min(9, decimalsOf((view.untilS - view.fromS) / 1000))
  const from = `${s.toFixed(decimals)} s`
  return of.start ? `${place} · ${clock(Date.parse(of.start) + s * 1000, zone)} (${from})` : `${place} · ${from}`
}
