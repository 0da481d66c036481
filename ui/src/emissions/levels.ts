// Levels by place, to be drawn: one lane a place, all in one unit.
import type { Ledger, Row } from '../api/client'
import { level, loudness, type Reception, type Zone } from './rows'

export type Dot = { capture: string; value: number; u: number | null; said: string }
export type Lane = {
  place: string; zone: Zone | 'no antenna'; dots: Dot[]
  /** The lowest limit where nothing was heard; null where heard or where no limit is known. */
  limit: number | null; heard: boolean; looked_s: number; best: number
}
export type Unit = 'dBm' | 'dBFS' | 'strength'
export type Plot = { unit: Unit; lanes: Lane[]; unheard: boolean; low: number; high: number }

const ZONES: (Zone | 'no antenna')[] = ['inside', 'adjacent', 'outside', 'moving', 'no antenna']

function unitOf(of: Reception, fallback: Unit): Unit {
  if (of.level_dbm !== null) return 'dBm'
  if (of.level_dbfs !== null) return 'dBFS'
  if (of.strength) return 'strength'
  return of.limit_dbm !== null ? 'dBm' : of.limit_dbfs !== null ? 'dBFS' : fallback
}

/** Loud places first inside each zone; a plot a unit, since units do not compare. */
export function plots(row: Row, ledger: Ledger): Plot[] {
  const positions = new Map(ledger.positions.map((one) => [one.id, one]))
  const kinds = new Map(ledger.captures.map((one) => [one.id, one.kind]))
  const units = new Map<Unit, Map<string, Reception[]>>()
  for (const one of row.receptions) {
    const log = kinds.get(one.capture) === 'event-log' || kinds.get(one.capture) === 'readings'
    const unit = unitOf(one, log ? 'strength' : 'dBm')
    const places = units.get(unit) ?? units.set(unit, new Map()).get(unit)!
    const key = one.position ?? 'no antenna'
    places.set(key, [...(places.get(key) ?? []), one])
  }
  return [...units].map(([unit, places]) => {
    const lanes = [...places].map(([id, of]): Lane => {
      const place = positions.get(id)
      const dots = of.filter((one) => one.heard).map((one) => ({
        capture: one.capture, value: unit === 'strength' ? (one.strength?.value ?? NaN) : loudness(one), u: one.u_db, said: level(one, 1),
      })).filter((dot) => Number.isFinite(dot.value)).toSorted((a, b) => b.value - a.value)
      const limits = of.filter((one) => !one.heard)
        .map((one) => (unit === 'dBm' ? one.limit_dbm : unit === 'dBFS' ? one.limit_dbfs : null)).filter((x) => x !== null)
      const heard = of.some((one) => one.heard)
      return {
        place: place?.name ?? id, zone: place?.zone ?? 'no antenna', dots, heard,
        limit: heard || !limits.length ? null : Math.min(...limits),
        looked_s: of.reduce((sum, one) => sum + one.looked_s, 0), best: dots[0]?.value ?? -Infinity,
      }
    }).toSorted((a, b) => ZONES.indexOf(a.zone) - ZONES.indexOf(b.zone) || b.best - a.best)
    const values = lanes.flatMap((lane) => [...lane.dots.flatMap((dot) => [dot.value - (dot.u ?? 0), dot.value + (dot.u ?? 0)]), ...(lane.limit === null ? [] : [lane.limit])])
    const scale = row.receptions.find((one) => one.strength)?.strength?.of ?? 10
    const [low, high] = unit === 'strength' ? [0, scale] : [Math.floor((Math.min(...values) - 3) / 10) * 10, Math.ceil((Math.max(...values) + 3) / 10) * 10]
    // A plot without a dot or a limit would be an empty axis: words do.
    const unheard = values.length === 0
    return { unit, lanes, unheard, low: Number.isFinite(low) ? low : -100, high: Number.isFinite(high) ? high : 0 }
  })
}
