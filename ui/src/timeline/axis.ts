// A stretch of time shown over so many pixels. Times are milliseconds since 1970, UTC.
import { typed } from '../lib/clock'

export type View = { from: number; to: number }

/** The least that is shown at once, milliseconds. */
const LEAST = 1

export const x = (view: View, width: number, time: number): number => ((time - view.from) / (view.to - view.from)) * width
export const timeAt = (view: View, width: number, pixel: number): number => view.from + (pixel / width) * (view.to - view.from)

/** Within what there is, and never less than a millisecond. */
export function within(view: View, bounds: View): View {
  const whole = bounds.to - bounds.from
  const span = Math.min(whole, Math.max(LEAST, view.to - view.from))
  const from = Math.min(bounds.to - span, Math.max(bounds.from, view.from))
  return { from, to: from + span }
}

/** Nearer by a factor under 1, farther by one over it; what is at `time` stays where it is. */
export function zoomed(view: View, bounds: View, factor: number, time: number): View {
  const span = Math.min(bounds.to - bounds.from, Math.max(LEAST, (view.to - view.from) * factor))
  const part = (time - view.from) / (view.to - view.from)
  const from = time - part * span
  return within({ from, to: from + span }, bounds)
}

export const panned = (view: View, bounds: View, by: number): View =>
  within({ from: view.from + by, to: view.to + by }, bounds)

const S = 1000, MIN = 60 * S, H = 60 * MIN, DAY = 24 * H
const STEPS = [1, 2, 5, 10, 20, 50, 100, 200, 500, S, 2 * S, 5 * S, 10 * S, 15 * S, 30 * S, MIN, 2 * MIN, 5 * MIN, 10 * MIN,
  15 * MIN, 30 * MIN, H, 2 * H, 3 * H, 6 * H, 12 * H, DAY, 2 * DAY, 7 * DAY, 30 * DAY]

export type Tick = { time: number; label: string; day: boolean }

/** Marks at round times of the survey's clock, at least `apart` pixels from each other. */
export function ticks(view: View, width: number, zone: string, apart = 90): Tick[] {
  const least = ((view.to - view.from) * apart) / Math.max(1, width)
  const step = STEPS.find((one) => one >= least) ?? 365 * DAY
  const offset = offsetAt(view.from, zone)
  const out: Tick[] = []
  for (let local = Math.ceil((view.from + offset) / step) * step; local - offset <= view.to; local += step) {
    const text = new Date(local).toISOString()
    const day = local % DAY === 0
    const label = day ? `${Number(text.slice(8, 10))} ${MONTHS[Number(text.slice(5, 7)) - 1]}` : step >= MIN ? text.slice(11, 16) : step >= S ? text.slice(11, 19) : text.slice(17, 23)
    out.push({ time: local - offset, label, day })
  }
  return out
}

/** What a time zone adds to UTC at a time, milliseconds. */
export function offsetAt(time: number, zone: string): number {
  const second = Math.floor(time / S) * S
  return Date.parse(`${typed(new Date(second).toISOString(), zone)}Z`) - second
}

/** `27 Nov 03:12:45.120`, as finely as the view can tell. */
export function precise(time: number, view: View, zone: string): string {
  const local = new Date(time + offsetAt(time, zone)).toISOString()
  const figures = view.to - view.from < 100 * S ? 23 : 19
  return `${local.slice(8, 10)} ${MONTHS[Number(local.slice(5, 7)) - 1]} ${local.slice(11, figures)}`
}
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec']
