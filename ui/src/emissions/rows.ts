// The ledger as lines to read: what is said of each row, in which order, and which are asked for.
import type { Ledger, Row, Schemas } from '../api/client'
import { decibels, hertz, parseHertz, state as stateWord, width } from '../lib/words'

export type State = Schemas['State']
export type Zone = Schemas['Zone']
export type Position = Schemas['Position']
export type Reception = Schemas['Reception']

export const STATES: State[] = ['open', 'suspect', 'located', 'unresolved', 'handed-over', 'accounted']

/** Words of likelihood with the probability that each ends at: the report's scale. */
export const LIKELIHOOD: [word: string, high: number][] = [
  ['very unlikely', 0.05], ['unlikely', 0.33], ['as likely as not', 0.67], ['likely', 0.95], ['very likely', 1],
]

export function likelihood(p: number): string {
  return LIKELIHOOD.find(([, high]) => p < high)?.[0] ?? 'very likely'
}

/** A level in whatever unit it was measured, with that unit. */
export function level(of: Pick<Reception, 'level_dbm' | 'level_dbfs' | 'strength'>, decimals = 0): string {
  if (of.level_dbm !== null) return decibels(of.level_dbm, 'dBm', decimals)
  if (of.level_dbfs !== null) return decibels(of.level_dbfs, 'dBFS', decimals)
  return of.strength ? `${of.strength.value} of ${of.strength.of}` : '–'
}

/** One number to order levels of one unit by. */
export function loudness(of: Reception): number {
  return of.level_dbm ?? of.level_dbfs ?? (of.strength ? of.strength.value / of.strength.of : -Infinity)
}

/** Where it was loudest: among rooms first, as the ledger's own level is. */
export function loudest(row: Row): Reception | null {
  const heard = row.receptions.filter((one) => one.heard && one.role !== 'no-antenna')
  const rooms = heard.filter((one) => one.role === 'room' || one.role === 'walk')
  const among = rooms.length ? rooms : heard
  // Levels of one unit alone compare: dBm before dBFS before strength.
  const units = [(one: Reception) => one.level_dbm, (one: Reception) => one.level_dbfs, (one: Reception) => one.strength]
  const unit = units.find((of) => among.some((one) => of(one) !== null))
  return among.filter((one) => !unit || unit(one) !== null).reduce<Reception | null>((best, one) => (best && loudness(best) >= loudness(one) ? best : one), null)
}

/** What is known of it, surest first: identity, technology, modulation, a log's own word, behaviour. */
export function known(row: Row): string {
  const technology = row.technology && row.technology.label !== 'unknown' ? stateWord(row.technology.label) : null
  const modulation = row.modulation && row.modulation.label !== 'unknown' ? MODULATIONS[row.modulation.label] : null
  const shape = row.shape === 'continuous' ? 'continuous' : row.shape
  const first = [row.identity, technology ?? modulation, row.label].filter(Boolean)
  return first.length ? first.join(', ') : shape
}

const MODULATIONS: Record<string, string> = {
  cw: 'bare carrier', am: 'AM', dsb: 'double sideband', ssb: 'single sideband', nfm: 'narrow FM', wfm: 'wide FM',
  fm_subcarrier: 'FM with subcarrier', ook: 'on-off keying', ask: 'ASK', fsk2: '2-FSK', gfsk: 'GFSK', fsk4: '4-FSK',
  bpsk: 'BPSK', qpsk: 'QPSK', oqpsk: 'OQPSK', pi4dqpsk: 'π/4-DQPSK', psk8: '8-PSK', qam16: '16-QAM', qam64: '64-QAM',
  ofdm: 'OFDM', dsss: 'direct sequence', chirp: 'chirp', video_am: 'AM picture', video_fm: 'FM picture', noise: 'noise',
}
export const modulation = (label: string): string => MODULATIONS[label] ?? stateWord(label)

export function frequency(row: Row): string {
  if (row.low_hz === 0 && row.high_hz === 0 && row.label) return row.label
  if (row.bandwidth_hz === null && row.low_hz !== row.high_hz) return `${hertz(row.low_hz, 5)} – ${hertz(row.high_hz, 5)}`
  return hertz(row.centre_hz, 7)
}

export function widthOf(row: Row): string {
  if (row.bandwidth_hz === null) return '–'
  return `${row.bandwidth_is === 'upper_bound' ? '≤ ' : ''}${width(row.bandwidth_hz)}`
}

/** Loudest room over best reference, at a glance: `+23 dB`; `> 40 dB` where no reference heard it. */
export function excess({ origin }: Row): string {
  if (origin.excess_db === null) return '–'
  const sign = origin.excess_at_least ? '> ' : origin.excess_db > 0 ? '+' : ''
  return `${sign}${decibels(origin.excess_db)}`
}

/** Reasons that compare rooms with references. */
const COMPARES = ['stronger_inside', 'stronger_outside', 'as_strong', 'only_inside', 'not_inside']

/** The same with what it means; what no decibels tell, in the ledger's own words: by steps of a scale. */
export function excessOver({ origin, attention }: Row): string {
  if (origin.excess_db === null) return attention.reasons.find((one) => COMPARES.includes(one.code))?.text ?? 'no reference to compare with'
  const db = decibels(origin.excess_db, 'dB', 1)
  return origin.excess_at_least
    ? `more than ${db}: no reference heard it, and this is over what would have been heard there`
    : `${db} ± ${decibels(origin.excess_u_db, 'dB', 1)} over the best reference`
}

export type Line = {
  row: Row; id: string; rank: number; frequency: string; width: string; known: string
  where: string; zone: Zone | null; level: string; excess: string
  inside: string; insideTitle: string; state: State; changed: boolean; why: string
}

/** Words for where a row was loudest that has no place. */
function unplaced(row: Row, best: Reception | null): string {
  if (best) return 'place not said'
  return row.receiver_line || row.receptions.some((one) => one.heard) ? 'no antenna' : '–'
}

export function lines(ledger: Ledger): Line[] {
  const positions = new Map(ledger.positions.map((one) => [one.id, one]))
  return ledger.emissions.map((row) => {
    const best = loudest(row)
    const place = best?.position ? positions.get(best.position) : undefined
    const p = row.origin.p_inside
    return {
      row, id: row.id, rank: row.attention.rank,
      frequency: frequency(row), width: widthOf(row), known: known(row),
      where: place?.name ?? unplaced(row, best), zone: place?.zone ?? null,
      level: best ? level(best) : '–',
      excess: excess(row),
      inside: p === null ? 'cannot be told' : likelihood(p),
      insideTitle: p === null ? 'nothing tells inside from outside'
        : `probability ${p.toFixed(2)} that it radiates from inside${row.origin.excess_db === null ? '' : `; excess ${excessOver(row)}`}`,
      state: row.decision.state, changed: row.decision.changed_since.length > 0,
      why: row.attention.reasons[0]?.text ?? '',
    }
  })
}

export type Column = 'rank' | 'frequency' | 'width' | 'known' | 'where' | 'excess' | 'inside' | 'state'
export type Order = { by: Column; down: boolean }

const KEYS: Record<Column, (line: Line) => number | string> = {
  rank: (line) => line.rank,
  frequency: (line) => line.row.centre_hz,
  width: (line) => line.row.bandwidth_hz ?? -1,
  known: (line) => line.known,
  where: (line) => line.where,
  excess: (line) => line.row.origin.excess_db ?? -Infinity,
  inside: (line) => line.row.origin.p_inside ?? -1,
  state: (line) => STATES.indexOf(line.state),
}

/** In the order asked for; rows that are alike in it stay by rank. */
export function sorted(of: Line[], { by, down }: Order): Line[] {
  const key = KEYS[by]
  const sign = down ? -1 : 1
  return of.toSorted((a, b) => {
    const [x, y] = [key(a), key(b)]
    const first = typeof x === 'string' || typeof y === 'string' ? String(x).localeCompare(String(y)) : x === y ? 0 : x - y
    return first * sign || a.rank - b.rank
  })
}

export type Filter = { text: string; state: State | 'changed' | ''; position: string; pressing: boolean }

/** Rows that a filter leaves: its text is an id, a frequency or a span of them, or words. */
export function filtered(of: Line[], filter: Filter): Line[] {
  const text = filter.text.trim().toLowerCase()
  const span = text ? spanOf(text) : null
  return of.filter((line) => {
    if (filter.pressing && line.state !== 'open' && line.state !== 'suspect' && !line.changed) return false
    if (filter.state === 'changed' ? !line.changed : filter.state && line.state !== filter.state) return false
    if (filter.position && !line.row.receptions.some((one) => one.heard && one.position === filter.position)) return false
    if (!text) return true
    if (span && line.row.low_hz <= span[1] && line.row.high_hz >= span[0]) return true
    return said(line).includes(text)
  })
}

/** `433.9 MHz` is all that rounds to it; `433 - 435 MHz` is a span. A bare number is in MHz. */
export function spanOf(text: string): [number, number] | null {
  const parts = text.split(/\s*(?:–|\.\.|\s-|- | to )\s*/).filter(Boolean)
  if (parts.length > 2) return null
  const unit = /[gmk]?hz\s*$|[gmk]\s*$/i.exec(text)?.[0] ?? 'MHz'
  const values = parts.map((part) => parseHertz(/[a-z]/i.test(part) ? part : `${part} ${unit}`))
  const [low, high = low] = values
  if (low === null || low === undefined || high === null || high === undefined) return null
  if (parts.length === 2) return [Math.min(low, high), Math.max(low, high)]
  const decimals = /[.,](\d+)/.exec(parts[0] ?? '')?.[1]?.length ?? 0
  const scale = parseHertz(`1 ${unit}`) ?? 1e6
  const half = (scale * 10 ** -decimals) / 2
  return [low - half, low + half]
}

function said(line: Line): string {
  const { row } = line
  return [line.id, ...row.aliases, line.frequency, line.known, row.label, line.where, line.state, row.decision.reason,
    row.shape, ...row.attention.reasons.map((one) => one.text)].join(' ').toLowerCase()
}
