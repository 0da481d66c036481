import { describe, expect, it } from 'vitest'
import type { Ledger, Row } from '../api/client'
import { excessOver, filtered, likelihood, lines, loudest, sorted, spanOf } from './rows'
import { isAgainst, reasonBy, suggestion, taken } from './rule'

function row(id: string, centre: number, more: Partial<Row> = {}): Row {
  return {
    id, aliases: [], was_part_of: null, identity: null, label: null, first: null, last: null, centre_hz: centre,
    low_hz: centre - 5e3, high_hz: centre + 5e3, bandwidth_hz: 1e4, bandwidth_is: 'measured', shape: 'continuous',
    channels_hz: null, level_dbfs: null, level_dbm: null, snr_db: null, modulation: null, technology: null,
    allocations: [], may_be: [], receptions: [], receiver_line: null,
    bursts: { count: 1, median_s: null, period_s: null, on_fraction: 1 },
    decision: { state: 'open', ground: null, reason: null, by: null, at: null, changed_since: [] },
    attention: { rank: 1, score: 0, reasons: [] },
    origin: { p_inside: null, excess_db: null, excess_at_least: false, excess_u_db: null },
    ...more,
  } as Row
}
const reception = (position: string, level: number, role = 'room') => ({
  capture: 'C1', position, role, heard: true, level_dbm: level, level_dbfs: level, strength: null, u_db: 1,
  limit_dbfs: null, limit_dbm: null, looked_s: 1, first: null, last: null,
}) as Row['receptions'][number]

const ledger = {
  positions: [{ id: 'P1', name: 'Quay', zone: 'outside' }, { id: 'P2', name: 'Library', zone: 'inside' }],
  emissions: [
    row('E1', 433.92e6, { attention: { rank: 2, score: 1, reasons: [{ code: 'stronger_outside', text: 'louder at Quay', values: {} }] },
      receptions: [reception('P1', -40, 'reference'), reception('P2', -60)], origin: { p_inside: 0.01, excess_db: -20, excess_at_least: false, excess_u_db: 1 } }),
    row('E2', 100e6, { attention: { rank: 1, score: 2, reasons: [] }, origin: { p_inside: 0.97, excess_db: 30, excess_at_least: true, excess_u_db: 1 } }),
    row('E3', 868e6, { attention: { rank: 3, score: 0, reasons: [] },
      decision: { state: 'accounted', ground: 'seen', reason: 'lamp', by: null, at: null, changed_since: [] } }),
  ],
} as unknown as Ledger
const all = lines(ledger)
const ids = (of: { id: string }[]) => of.map((one) => one.id)

describe('the ledger as lines', () => {
  it('tells likelihood in words of the printed scale, each from its lower edge on', () => {
    expect([0, 0.05, 0.33, 0.67, 0.95, 1].map(likelihood)).toEqual(
      ['very unlikely', 'unlikely', 'as likely as not', 'likely', 'very likely', 'very likely'])
  })
  it('is loudest among the rooms, though a reference be louder', () => {
    expect(all[0]?.where).toBe('Library')
    expect(all[0]?.level).toBe('−60 dBm')
  })
  it('is loudest at any place, where no room heard it', () => {
    const only = (...receptions: Row['receptions']) => lines({ ...ledger, emissions: [row('E4', 434e6, { receptions })] })[0]
    expect(only(reception('P1', -40, 'reference'))).toMatchObject({ where: 'Quay', zone: 'outside', level: '−40 dBm' })
    expect(only(reception('P1', -70, 'check'), { ...reception('P2', -50), heard: false })?.where).toBe('Quay')
    expect(only({ ...reception('', -50, 'walk'), position: null })).toMatchObject({ where: 'place not said', level: '−50 dBm' })
    expect(only({ ...reception('', -90, 'no-antenna'), position: null })?.where).toBe('no antenna')
    expect(only()?.where).toBe('–')
  })
  it('compares no strength in steps with a level', () => {
    const steps = { ...reception('P1', 0, 'walk'), level_dbm: null, level_dbfs: null, strength: { value: 11, of: 12 } }
    expect(loudest(row('E4', 434e6, { receptions: [steps, reception('P2', -22)] }))?.position).toBe('P2')
    expect(loudest(row('E4', 434e6, { receptions: [steps] }))?.position).toBe('P1')
  })
  it('tells an excess in steps of a scale as the ledger does', () => {
    const compared = { code: 'stronger_outside', text: '1 step of 12 weaker in Study than in Yard', values: { excess_steps: -1, of: 12 } }
    const other = { code: 'p_inside', text: 'inside with probability 0.13', values: {} }
    expect(excessOver(row('E4', 434e6, { attention: { rank: 1, score: 0, reasons: [other, compared] } }))).toBe(compared.text)
    expect(excessOver(row('E4', 434e6, { attention: { rank: 1, score: 0, reasons: [other] } }))).toBe('no reference to compare with')
  })
  it('bounds an excess that no reference was heard for', () => {
    expect(all.map((line) => line.excess)).toEqual(['−20 dB', '> 30 dB', '–'])
    expect(all[1]?.insideTitle).toContain('more than 30.0 dB')
  })
  it('sorts by a column, alike ones by rank', () => {
    expect(ids(sorted(all, { by: 'frequency', down: false }))).toEqual(['E2', 'E1', 'E3'])
    expect(ids(sorted(all, { by: 'state', down: false }))).toEqual(['E2', 'E1', 'E3'])
    expect(ids(sorted(all, { by: 'excess', down: true }))).toEqual(['E2', 'E1', 'E3'])
  })
  it('filters by frequency, span, words, place and what is open', () => {
    const none = { text: '', state: '', position: '', pressing: false } as const
    expect(ids(filtered(all, { ...none, text: '433.9' }))).toEqual(['E1'])
    expect(ids(filtered(all, { ...none, text: '90 - 500 MHz' }))).toEqual(['E1', 'E2'])
    expect(ids(filtered(all, { ...none, text: 'lamp' }))).toEqual(['E3'])
    expect(ids(filtered(all, { ...none, position: 'P1' }))).toEqual(['E1'])
    expect(ids(filtered(all, { ...none, pressing: true }))).toEqual(['E1', 'E2'])
    expect(spanOf('two words')).toBeNull()
  })
})

describe('a rule', () => {
  it('takes open rows alone, and only those of which it holds', () => {
    expect(ids(taken({ kind: 'excess', below_db: -6 }, all))).toEqual(['E1'])
    expect(ids(taken({ kind: 'band', text: '800 - 900 MHz' }, all))).toEqual([])
    expect(ids(taken({ kind: 'marked', ids: ['E3'] }, all))).toEqual(['E3'])
  })
  it('is no ground that the levels speak against', () => {
    expect(all.map((line) => isAgainst('stronger-outside', line))).toEqual([false, true, false])
    expect(all.some((line) => isAgainst('inferred', line))).toBe(false)
  })
  it('is written into the reason', () => {
    expect(reasonBy({ kind: 'excess', below_db: -6 }, 7, 'as next door')).toBe(
      'By rule: all open rows heard at a reference whose excess over it is below −6 dB (7 rows together). as next door')
  })
  it('is never suggested against what was measured', () => {
    expect(suggestion(all[0]!)?.ground).toBe('stronger-outside')
    expect(suggestion(all[1]!)).toBeNull()
  })
})
