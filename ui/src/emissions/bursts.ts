// Bursts of an emission by the captures that heard it, as the server tells them.
import { fetched, type Schemas } from '../api/client'
import { bandsOf } from '../spectrum/axis'
import type { Spectrum } from '../spectrum/levels'
import { about, kept, type Bounds, type View } from '../spectrum/view'

export type Heard = Schemas['BurstsHeard']
export type Burst = Schemas['TimedBurst'] & { fromS: number; untilS: number }
/** Bursts told one by one; beyond it those that lie close together are told as one. */
export const MOST = 2000

export async function heardOf(survey: string, id: string, signal: AbortSignal): Promise<Heard[]> {
  return (await fetched(`/api/surveys/${encodeURIComponent(survey)}/ledger/${encodeURIComponent(id)}/bursts?most=${MOST}`, { signal })).json() as Promise<Heard[]>
}

/** Bursts in seconds from the capture's start. */
export function timed(heard: Heard): Burst[] {
  const s = (time: string) => (seconds(time) - seconds(heard.from))
  return heard.bursts.map((one) => ({ ...one, fromS: s(one.from), untilS: s(one.until) }))
}

/** Seconds since 1970, to the microsecond: dates themselves know milliseconds alone. */
function seconds(time: string): number {
  const fraction = /\.(\d+)/.exec(time)?.[0] ?? ''
  return Date.parse(time.replace(fraction, '')) / 1000 + Number(fraction || 0)
}

/** The strongest: what to look at first. */
export const strongest = (bursts: readonly Burst[]): number =>
  bursts.reduce((best, one, n) => ((one.snr_db ?? -Infinity) > (bursts[best]?.snr_db ?? -Infinity) ? n : best), 0)

/** The middle of the times from start to start, and the least and most of them; null where they are not
 * told one by one. */
export function apart(bursts: readonly Burst[]): { median: number; least: number; most: number } | null {
  if (bursts.length < 3 || bursts.some((one) => one.count !== 1)) return null
  const gaps = bursts.slice(1).map((one, n) => one.fromS - (bursts[n]?.fromS ?? 0)).sort((a, b) => a - b)
  return { median: gaps[gaps.length >> 1] ?? 0, least: gaps[0] ?? 0, most: gaps.at(-1) ?? 0 }
}

/** An emission with air on both sides, within the band that it was received in; the whole time, or that
 * of one burst. */
export function viewOf(of: Spectrum, within: Bounds, band: { low_hz: number; high_hz: number; centre_hz: number }, burst: Burst | null): View {
  const cell = of.levels.find((one) => one.frequency_level === 0)?.cell_hz ?? 0
  const wide = Math.max(5 * (band.high_hz - band.low_hz), 60 * cell)
  const own = bandsOf(of).find((one) => one.low_hz <= band.centre_hz && one.high_hz >= band.centre_hz)
  const inside = own ? { ...within, lowHz: own.low_hz, highHz: own.high_hz, axis: [] } : within
  const view = about({ lowHz: inside.lowHz, highHz: inside.highHz, fromS: 0, untilS: within.untilS }, band.centre_hz, wide, inside)
  if (!burst) return view
  const air = Math.max(burst.untilS - burst.fromS, within.leastS)
  return kept({ ...view, fromS: burst.fromS - air, untilS: burst.untilS + air }, inside)
}
