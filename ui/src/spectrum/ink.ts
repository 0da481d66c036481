// The lines of the page, drawn as print: trace, axes, allocations, emissions. One canvas over all.
import { clock } from '../lib/clock'
import { hertz } from '../lib/words'
import type { Spectrum } from './levels'
import type { Mark } from './marks'
import { decimalsOf, hertzLabels, ticks, timeTicks, xOf, yOf, type View } from './view'

/** A trace as the server gave it, with what it is called. */
export type Line = { label: string; lowHz: number; cellHz: number; levels: (number | null)[]; under: boolean }
export type Strip = { service: string; what: string; low_hz: number; high_hz: number }
/** Where the parts lie, in pixels of the page. */
export type Layout = { width: number; left: number; right: number; trace: number; axis: number; strips: number; height: number }

export type Ink = {
  view: View
  layout: Layout
  spectrum: Spectrum
  lines: Line[]
  difference: boolean
  /** Levels at the lower and upper edge of the trace. */
  levels: [number, number]
  strips: Strip[]
  marks: Mark[]
  selected: string | null
  zone: string
}

const FONT = '13px "Atkinson Hyperlegible Next", system-ui, sans-serif'

export function drawInk(canvas: HTMLCanvasElement, ink: Ink): void {
  const context = canvas.getContext('2d')
  if (!context) return
  const ratio = devicePixelRatio || 1
  const { layout } = ink
  const [width, height] = [Math.round(layout.width * ratio), Math.round(layout.height * ratio)]
  if (canvas.width !== width) canvas.width = width
  if (canvas.height !== height) canvas.height = height
  const style = getComputedStyle(canvas)
  const colour = (name: string) => style.getPropertyValue(name).trim()
  context.setTransform(ratio, 0, 0, ratio, 0, 0)
  context.clearRect(0, 0, layout.width, layout.height)
  context.font = FONT
  context.lineWidth = 1
  const c = { context, ink, line: colour('--line'), ink_: colour('--ink'), faint: colour('--faint'), under: colour('--under'), accent: colour('--accent'), paper: colour('--paper') }
  levelAxis(c)
  selection(c)
  ink.lines.forEach((line) => drawLine(c, line))
  lineLabels(c)
  markEmissions(c)
  frequencyAxis(c)
  allocations(c)
  timeAxis(c)
}

type C = {
  context: CanvasRenderingContext2D; ink: Ink
  line: string; ink_: string; faint: string; under: string; accent: string; paper: string
}

const across = (c: C) => c.ink.layout.width - c.ink.layout.left - c.ink.layout.right
const xAt = (c: C, hz: number) => c.ink.layout.left + xOf(c.ink.view, hz, across(c))
const snap = (x: number) => Math.round(x) + 0.5

function levelY(c: C, db: number): number {
  const [low, high] = c.ink.levels
  return c.ink.layout.trace - ((db - low) / (high - low)) * (c.ink.layout.trace - 26)
}

function stroke(c: C, colour: string, ...points: [number, number, number, number][]): void {
  c.context.strokeStyle = colour
  c.context.beginPath()
  for (const [x0, y0, x1, y1] of points) {
    c.context.moveTo(x0, y0)
    c.context.lineTo(x1, y1)
  }
  c.context.stroke()
}

function text(c: C, words: string, x: number, y: number, colour: string, align: CanvasTextAlign = 'left'): void {
  c.context.textAlign = align
  c.context.fillStyle = colour
  c.context.fillText(words, x, y)
}

function levelAxis(c: C): void {
  const { layout, levels, spectrum } = c.ink
  const { at, step } = ticks(levels[0], levels[1], 6)
  const end = layout.width - layout.right
  for (const db of at) {
    const y = snap(levelY(c, db))
    stroke(c, c.line, [layout.left, y, end, y])
    text(c, db.toFixed(decimalsOf(step)).replace('-', '−'), layout.left - 8, y + 4, c.faint, 'right')
  }
  text(c, c.ink.difference ? 'dB' : spectrum.unit, layout.left - 8, 14, c.faint, 'right')
}

/** A line through the largest and least of the cells that share a pixel: nothing narrow is lost. */
function drawLine(c: C, line: Line): void {
  const { layout } = c.ink
  const { context } = c
  context.save()
  context.beginPath()
  context.rect(layout.left, 0, across(c), layout.trace)
  context.clip()
  context.strokeStyle = line.under ? c.under : c.ink_
  context.lineWidth = line.under ? 1 : 1.25
  context.beginPath()
  let drawing = false
  for (let i = 0; i < line.levels.length; i++) {
    const db = line.levels[i]
    if (db === null || db === undefined) {
      drawing = false
      continue
    }
    const x = xAt(c, line.lowHz + (i + 0.5) * line.cellHz)
    const y = levelY(c, db)
    if (drawing) context.lineTo(x, y)
    else context.moveTo(x, y)
    drawing = true
  }
  context.stroke()
  context.restore()
}

/** Each line is named where it ends, apart from the others. */
function lineLabels(c: C): void {
  const { layout } = c.ink
  let free = 12
  const ends = c.ink.lines.map((line) => {
    const within = (hz: number) => hz >= c.ink.view.lowHz && hz <= c.ink.view.highHz
    const seen = line.levels.filter((db, i) => db !== null && within(line.lowHz + i * line.cellHz)).slice(-40)
    const sorted = (seen as number[]).sort((a, b) => a - b)
    return { line, y: levelY(c, sorted[sorted.length >> 1] ?? c.ink.levels[0]) }
  })
  for (const { line, y } of ends.sort((a, b) => a.y - b.y)) {
    free = Math.max(free, Math.min(y + 4, layout.trace - 12))
    text(c, line.label, layout.width - layout.right + 6, free, line.under ? c.faint : c.ink_)
    free += 15
  }
}

function frequencyAxis(c: C): void {
  const { layout, view, spectrum } = c.ink
  const most = Math.max(2, Math.floor(across(c) / 110))
  const { at, step } = ticks(view.lowHz, view.highHz, most)
  const { text: words, unit } = hertzLabels(at, step)
  const y = snap(layout.trace)
  stroke(c, c.under, [layout.left, y, layout.width - layout.right, y])
  at.forEach((hz, i) => {
    const x = snap(xAt(c, hz))
    stroke(c, c.under, [x, y, x, y + 5])
    text(c, words[i] ?? '', x, y + 19, c.ink_, 'center')
  })
  text(c, spectrum.centre_known ? unit : `${unit} offset`, layout.width - layout.right + 6, y + 19, c.faint)
}

/** Allocations as strokes along the axis, each named where its name fits; three deep at most. */
function allocations(c: C): void {
  const { layout, strips, view } = c.ink
  const lanes: number[] = [-Infinity, -Infinity, -Infinity]
  const end = layout.width - layout.right
  const seen = strips.filter((s) => s.high_hz > view.lowHz && s.low_hz < view.highHz)
  for (const strip of seen) {
    const from = Math.max(xAt(c, strip.low_hz), layout.left)
    const until = Math.min(xAt(c, strip.high_hz), end)
    if (until - from < 2) continue
    const lane = lanes.findIndex((used) => used <= from - 3)
    if (lane < 0) continue
    lanes[lane] = until
    const y = snap(layout.trace + layout.axis + lane * 16 + 12)
    stroke(c, c.under, [from, y, until, y], [snap(from), y - 3, snap(from), y + 3], [snap(until) - 1, y - 3, snap(until) - 1, y + 3])
    const words = fitted(c, strip.what ? [`${strip.service}: ${strip.what}`, strip.what, strip.service] : [strip.service], until - from - 12)
    if (!words) continue
    const wide = c.context.measureText(words).width
    c.context.fillStyle = c.paper
    c.context.fillRect((from + until - wide) / 2 - 4, y - 8, wide + 8, 16)
    text(c, words, (from + until) / 2, y + 4, c.faint, 'center')
  }
}

function fitted(c: C, candidates: string[], width: number): string | null {
  return candidates.find((words) => c.context.measureText(words).width <= width) ?? null
}

function timeAxis(c: C): void {
  const { layout, view, spectrum, zone } = c.ink
  const top = layout.trace + layout.axis + layout.strips
  const down = layout.height - top
  const { at, step } = timeTicks(view.fromS, view.untilS, Math.max(2, Math.floor(down / 56)))
  const start = spectrum.start && step >= 1 ? Date.parse(spectrum.start) : null
  // On round times of the clock, where it is known.
  const offset = start === null ? 0 : (start / 1000) % step
  for (const s of at.map((s) => s - offset).concat(at.slice(-1).map((s) => s - offset + step))) {
    if (s < view.fromS || s > view.untilS) continue
    const y = top + yOf(view, s, down)
    stroke(c, c.under, [layout.left - 5, snap(y), layout.left, snap(y)])
    const words = start === null ? `${s.toFixed(decimalsOf(step)).replace('-', '−')} s` : clock(Math.round(start + s * 1000), zone)
    if (y > top + 6 && y < layout.height - 2) text(c, words, layout.left - 8, y + 4, c.faint, 'right')
  }
}

function selection(c: C): void {
  const { layout, marks, selected } = c.ink
  const mark = marks.find((one) => one.id === selected)
  if (!mark) return
  const [from, until] = [xAt(c, mark.low_hz), xAt(c, mark.high_hz)]
  c.context.setLineDash([4, 4])
  for (const x of new Set([snap(from) - 1, snap(until)])) {
    if (x >= layout.left && x <= layout.width - layout.right) {
      stroke(c, c.accent, [x, 0, x, layout.trace], [x, layout.trace + layout.axis + layout.strips, x, layout.height])
    }
  }
  c.context.setLineDash([])
}

/** A bracket over the band of each emission, with its id where there is room. */
function markEmissions(c: C): void {
  const { layout, marks, selected } = c.ink
  let free = -Infinity
  for (const mark of marks) {
    const [from, until] = [xAt(c, mark.low_hz), xAt(c, mark.high_hz)]
    const end = layout.width - layout.right
    if (until < layout.left || from > end) continue
    const [a, b] = [snap(Math.max(from, layout.left)), snap(Math.min(Math.max(until, from + 2), end))]
    const mine = mark.id === selected
    const colour = mine || mark.open ? c.accent : c.ink_
    c.context.lineWidth = mine ? 2 : 1
    stroke(c, colour, [a, 20, b, 20], [a, 20, a, 25], [b, 20, b, 25])
    c.context.lineWidth = 1
    const wide = c.context.measureText(mark.label).width
    const middle = Math.min(Math.max((a + b) / 2, layout.left + wide / 2), end - wide / 2)
    if (mine || middle - wide / 2 > free) {
      if (mine) {
        c.context.fillStyle = c.paper
        c.context.fillRect(middle - wide / 2 - 4, 2, wide + 8, 15)
      }
      text(c, mark.label, middle, 14, colour, 'center')
      free = middle + wide / 2 + 8
    }
  }
}

/** Where the cursor is, in words. */
export function placeWords(hz: number, s: number | null, of: Spectrum, view: View, width: number, zone: string): string {
  const step = (view.highHz - view.lowHz) / width
  const figures = Math.max(4, Math.ceil(Math.log10(Math.max(Math.abs(hz), 1) / Math.max(step, 1e-3))) + 1)
  const place = hertz(hz, Math.min(figures, 12))
  if (s === null) return place
  const decimals = Math.min(9, decimalsOf((view.untilS - view.fromS) / 1000))
  const from = `${s.toFixed(decimals)} s`
  return of.start ? `${place} · ${clock(Date.parse(of.start) + s * 1000, zone)} (${from})` : `${place} · ${from}`
}
