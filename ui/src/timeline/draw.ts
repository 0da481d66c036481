// Draws lanes. Never more bars than pixels: bars that fall on one pixel are one, and the shortest is
// still two pixels wide.
import type { View } from './axis'
import { ticks, x } from './axis'
import { firstAfter, type Lane, type Spans } from './lanes'

export type Look = { ink: string; faint: string; line: string; accent: string; paper: string; leaf: string; under: string; font: string }
export type Frame = {
  width: number; height: number; view: View; zone: string; look: Look
  lanes: Lane[]; tops: number[]; top: number; head: number; chosen: string | null; pointer: number | null
}

const SHORTEST = 2

export function draw(ctx: CanvasRenderingContext2D, f: Frame): void {
  ctx.fillStyle = f.look.paper
  ctx.fillRect(0, 0, f.width, f.height)
  ctx.font = f.look.font
  ctx.textBaseline = 'middle'
  const marks = ticks(f.view, f.width, f.zone)
  ctx.strokeStyle = f.look.line
  ctx.lineWidth = 1
  ctx.beginPath()
  for (const tick of marks) {
    const at = Math.round(x(f.view, f.width, tick.time)) + 0.5
    ctx.moveTo(at, f.head)
    ctx.lineTo(at, f.height)
  }
  ctx.stroke()

  ctx.save()
  ctx.beginPath()
  ctx.rect(0, f.head, f.width, f.height - f.head)
  ctx.clip()
  f.lanes.forEach((lane, i) => {
    const [above = 0, below = 0] = [f.tops[i], f.tops[i + 1]]
    if (below > f.top && above < f.top + f.height) drawLane(ctx, f, lane, f.head + above - f.top, below - above)
  })
  ctx.restore()

  ctx.fillStyle = f.look.faint
  ctx.textAlign = 'center'
  for (const tick of marks) {
    const at = x(f.view, f.width, tick.time)
    if (at > 24 && at < f.width - 24) ctx.fillText(tick.label, at, f.head / 2)
  }
  if (f.pointer !== null) {
    ctx.strokeStyle = f.look.under
    ctx.beginPath()
    ctx.moveTo(Math.round(f.pointer) + 0.5, f.head)
    ctx.lineTo(Math.round(f.pointer) + 0.5, f.height)
    ctx.stroke()
  }
}

function drawLane(ctx: CanvasRenderingContext2D, f: Frame, lane: Lane, y: number, height: number): void {
  const { look } = f
  if (lane.key === f.chosen) {
    ctx.fillStyle = look.leaf
    ctx.fillRect(0, y, f.width, height)
  }
  ctx.fillStyle = look.line
  ctx.fillRect(0, y + height - 1, f.width, 1)
  const middle = y + height / 2
  if (lane.listened.length) {
    ctx.fillStyle = look.under
    ctx.beginPath()
    bars(lane.listened, f, (from, to) => ctx.rect(from, middle - 1, to - from, 2))
    ctx.fill()
  }
  const tall = 2 * Math.round(height * (lane.kind === 'emission' ? 0.22 : 0.34))
  ctx.fillStyle = lane.state === 'suspect' ? look.accent : look.ink
  ctx.strokeStyle = look.ink
  ctx.beginPath()
  const free: [number, string][] = []
  bars(lane.bars, f, (from, to, n, merged) => {
    if (lane.looks[n] === 'hollow' && to - from > 4) {
      ctx.fillRect(from, middle - tall / 2, to - from, 1)
      ctx.fillRect(from, middle + tall / 2 - 1, to - from, 1)
      ctx.fillRect(from, middle - tall / 2, 1, tall)
      ctx.fillRect(to - 1, middle - tall / 2, 1, tall)
    } else if (lane.looks[n] === 'thin') ctx.rect(from, middle - 2, to - from, 4)
    else ctx.rect(from, middle - tall / 2, to - from, tall)
    if (!merged && lane.words[n]) free.push([n, lane.words[n]])
    else if (lane.words[n]) free.push([n, ''])
  })
  ctx.fill()
  words(ctx, f, lane, middle, free)
}

/** Labels beside their bars where the next bar leaves room; inside a bar that is long enough. */
function words(ctx: CanvasRenderingContext2D, f: Frame, lane: Lane, middle: number, of: [number, string][]): void {
  ctx.textAlign = 'left'
  for (const [n, word] of of) {
    if (!word) continue
    const from = Math.max(0, x(f.view, f.width, lane.bars[2 * n] ?? 0))
    const to = Math.min(f.width, Math.max(from + SHORTEST, x(f.view, f.width, lane.bars[2 * n + 1] ?? 0)))
    const next = lane.bars.length > 2 * n + 2 ? x(f.view, f.width, lane.bars[2 * n + 2] ?? 0) : f.width
    const long = ctx.measureText(word).width
    if (to - from > long + 16 && lane.looks[n] !== 'thin') {
      ctx.fillStyle = lane.looks[n] === 'hollow' ? f.look.ink : f.look.paper
      ctx.fillText(word, from + 8, middle)
    } else if (next - to > long + 12 && to + long + 6 < f.width) {
      ctx.fillStyle = f.look.faint
      ctx.fillText(word, to + 5, middle)
    }
  }
}

/** Bars in view, in whole pixels; the next is looked for beyond the pixel that the last one filled. */
export function bars(spans: Spans, f: Pick<Frame, 'view' | 'width'>, each: (from: number, to: number, n: number, merged: boolean) => void): void {
  const per = (f.view.to - f.view.from) / f.width
  let n = firstAfter(spans, f.view.from)
  while (2 * n < spans.length) {
    const from = spans[2 * n] ?? 0
    if (from > f.view.to) return
    const left = Math.max(-1, Math.floor((from - f.view.from) / per))
    let right = Math.min(f.width + 1, Math.max(left + SHORTEST, Math.round(((spans[2 * n + 1] ?? 0) - f.view.from) / per)))
    const next = Math.max(n + 1, firstAfter(spans, f.view.from + right * per))
    const merged = next > n + 1
    // The last of those skipped may reach past the pixel.
    const tail = Math.round(((spans[2 * next - 1] ?? 0) - f.view.from) / per)
    right = Math.min(f.width + 1, Math.max(right, tail))
    each(left, right, n, merged)
    n = next
  }
}
