// One emission's levels at the positions of one chain: levels compare only inside one chain.
import type { Ledger, Row } from '../api/client'
import { decibels } from '../lib/words'

export type Unit = 'dBm' | 'dBFS' | 'strength'
/** What one position received: `value` in the unit of all, null where it was not heard or nobody read it. */
export type Level = { position: string; heard: boolean; value: number | null; limit: number | null; of: number | null; text: string }
export type Levels = { unit: Unit; at: Level[]; loudest: string | null; base: number; top: number }

type Reception = Row['receptions'][number]
/** How far below the loudest a disc still has an area. Decibels. */
const SPAN_DB = 60

/** The chains that listened for a row, the one that heard it at most positions first. */
export function chainsOf(row: Row, ledger: Ledger): string[] {
  const heard = new Map<string, Set<string>>()
  for (const { reception, chain } of placed(row, ledger)) {
    const at = heard.get(chain) ?? new Set()
    if (reception.heard) at.add(reception.position ?? '')
    heard.set(chain, at)
  }
  return [...heard].sort((a, b) => b[1].size - a[1].size).map(([chain]) => chain)
}

export function levelsOf(row: Row, ledger: Ledger, chain: string): Levels {
  const mine = placed(row, ledger).filter((one) => one.chain === chain).map((one) => one.reception)
  const unit = unitOf(mine)
  const positions = [...new Set(mine.map((one) => one.position ?? ''))]
  const at = positions.map((position) => levelAt(position, mine.filter((one) => one.position === position), unit))
  const values = at.flatMap((one) => (one.value === null ? [] : [one.value]))
  const top = values.length ? Math.max(...values) : 0
  const known = [...values, ...at.flatMap((one) => (one.heard || one.limit === null ? [] : [one.limit]))]
  const base = unit === 'strength' ? 0 : Math.max(top - SPAN_DB, Math.min(top - 1, ...known))
  const loudest = at.find((one) => one.value !== null && one.value === top)?.position ?? null
  return { unit, at, loudest, base, top: unit === 'strength' ? Math.max(1, ...at.map((one) => one.of ?? 0)) : top }
}

/** Radius of a disc whose area grows with the level: `most` at the top, a tenth of its area at the base. */
export function radius(value: number, { base, top }: Pick<Levels, 'base' | 'top'>, most: number): number {
  const share = top > base ? (value - base) / (top - base) : 1
  return most * Math.sqrt(0.1 + 0.9 * Math.min(1, Math.max(0, share)))
}

function placed(row: Row, ledger: Ledger): { reception: Reception; chain: string }[] {
  const chains = new Map(ledger.captures.map((one) => [one.id, one.chain ?? 'unstated']))
  return row.receptions
    .filter((one) => one.position !== null)
    .map((reception) => ({ reception, chain: chains.get(reception.capture) ?? 'unstated' }))
}

function unitOf(receptions: readonly Reception[]): Unit {
  const heard = receptions.filter((one) => one.heard)
  const all = heard.length ? heard : receptions
  const has = (level: 'level' | 'limit', unit: 'dbm' | 'dbfs') => all.some((one) => one[`${level}_${unit}`] !== null)
  if (has('level', 'dbm')) return 'dBm'
  if (has('level', 'dbfs')) return 'dBFS'
  if (heard.some((one) => one.strength !== null)) return 'strength'
  return has('limit', 'dbm') ? 'dBm' : has('limit', 'dbfs') ? 'dBFS' : 'strength'
}

function levelAt(position: string, receptions: readonly Reception[], unit: Unit): Level {
  const heard = receptions.filter((one) => one.heard)
  const of = heard.map((one) => one.strength?.of ?? null).find((one) => one !== null) ?? null
  const level = (one: Reception) =>
    unit === 'dBm' ? one.level_dbm : unit === 'dBFS' ? one.level_dbfs : (one.strength?.value ?? null)
  const limit = (one: Reception) => (unit === 'dBm' ? one.limit_dbm : unit === 'dBFS' ? one.limit_dbfs : null)
  const values = heard.flatMap((one) => level(one) ?? [])
  const limits = receptions.flatMap((one) => limit(one) ?? [])
  const value = values.length ? Math.max(...values) : null
  const least = limits.length ? Math.min(...limits) : null
  return { position, heard: heard.length > 0, value, limit: least, of, text: words(heard.length > 0, value, least, of, unit) }
}

function words(heard: boolean, value: number | null, limit: number | null, of: number | null, unit: Unit): string {
  if (value !== null) return unit === 'strength' ? `${value} of ${of ?? '?'}` : decibels(value, unit)
  if (heard) return 'heard, no level'
  return limit === null ? 'not heard' : `not heard, under ${decibels(limit, unit)}`
}
