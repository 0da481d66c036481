// What drawing the lines of the page has in common: where things lie, colours of the page, strokes, words.
import type { Axis } from './axis'
import type { Spectrum } from './levels'
import type { Mark } from './marks'
import type { Part } from './traces'
import { xOf, yOf, type View } from './view'

/** A trace as the server gave it, with what it is called. */
export type Line = { label: string; parts: Part[]; under: boolean }
export type Strip = { service: string; what: string; low_hz: number; high_hz: number }
/** Where the parts lie, in pixels of the page. */
export type Layout = { width: number; left: number; right: number; trace: number; axis: number; strips: number; height: number }
/** When a burst was on, seconds from the recording's start. */
export type On = { fromS: number; untilS: number; chosen?: boolean }

export type Ink = {
  view: View
  axis: Axis
  layout: Layout
  spectrum: Spectrum
  lines: Line[]
  difference: boolean
  /** Levels at the lower and upper edge of the trace. */
  levels: [number, number]
  strips: Strip[]
  marks: Mark[]
  selected: string | null
  /** Bursts of the selected emission, drawn beside the spectrogram. */
  bursts: On[]
  zone: string
}

/** Ink, and the colours and canvas that it is drawn with. */
export type Pen = Ink & {
  context: CanvasRenderingContext2D
  colour: Record<'line' | 'ink' | 'faint' | 'under' | 'accent' | 'paper' | 'leaf', string>
}

const FONT = '13px "Atkinson Hyperlegible Next", system-ui, sans-serif'

/** A pen on a canvas, which is cleared and made as large as the layout. */
export function penOn(canvas: HTMLCanvasElement, ink: Ink): Pen | null {
  const context = canvas.getContext('2d')
  if (!context) return null
  const ratio = devicePixelRatio || 1
  const [width, height] = [Math.round(ink.layout.width * ratio), Math.round(ink.layout.height * ratio)]
  if (canvas.width !== width) canvas.width = width
  if (canvas.height !== height) canvas.height = height
  context.setTransform(ratio, 0, 0, ratio, 0, 0)
  context.clearRect(0, 0, ink.layout.width, ink.layout.height)
  context.font = FONT
  context.lineWidth = 1
  const style = getComputedStyle(canvas)
  const colour = (name: string) => style.getPropertyValue(`--${name}`).trim()
  const names = ['line', 'ink', 'faint', 'under', 'accent', 'paper', 'leaf'] as const
  return { ...ink, context, colour: Object.fromEntries(names.map((name) => [name, colour(name)])) as Pen['colour'] }
}

export const snap = (x: number) => Math.round(x) + 0.5
export const across = (p: Pen) => p.layout.width - p.layout.left - p.layout.right
export const xAt = (p: Pen, hz: number) => p.layout.left + xOf(p.view, hz, across(p), p.axis)
/** Where the spectrogram begins, downward. */
export const topOf = (layout: Layout) => layout.trace + layout.axis + layout.strips
export const yAt = (p: Pen, s: number) => topOf(p.layout) + yOf(p.view, s, p.layout.height - topOf(p.layout))

export function levelY(p: Pen, db: number): number {
  const [low, high] = p.levels
  return p.layout.trace - ((db - low) / (high - low)) * (p.layout.trace - 26)
}

export function stroke(p: Pen, colour: string, ...points: [number, number, number, number][]): void {
  p.context.strokeStyle = colour
  p.context.beginPath()
  for (const [x0, y0, x1, y1] of points) {
    p.context.moveTo(x0, y0)
    p.context.lineTo(x1, y1)
  }
  p.context.stroke()
}

export function text(p: Pen, words: string, x: number, y: number, colour: string, align: CanvasTextAlign = 'left'): void {
  p.context.textAlign = align
  p.context.fillStyle = colour
  p.context.fillText(words, x, y)
}

export const widthOf = (p: Pen, words: string) => p.context.measureText(words).width

/** The first of some wordings that fits. */
export function fitted(p: Pen, candidates: string[], width: number): string | null {
  return candidates.find((words) => widthOf(p, words) <= width) ?? null
}
