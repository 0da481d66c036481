import { describe, expect, it } from 'vitest'
import type { Ledger, Row } from '../api/client'
import { chainsOf, levelsOf, radius } from './levels'

const reception = (capture: string, position: string | null, said: object) => ({
  capture, position, role: 'room', heard: true, level_dbfs: null, level_dbm: null, strength: null, u_db: null,
  limit_dbfs: null, limit_dbm: null, looked_s: 1, first: null, last: null, ...said,
})
const row = {
  receptions: [
    reception('C1', 'P1', { level_dbm: -61.4, level_dbfs: -61.4 }),
    reception('C2', 'P1', { level_dbm: -55 }),
    reception('C1', 'P2', { heard: false, limit_dbm: -95.2 }),
    reception('C2', 'P2', { heard: false, limit_dbm: -99.6 }),
    reception('C1', 'P3', { level_dbm: -40 }),
    reception('C3', 'P1', { strength: { value: 3, of: 12 } }),
    reception('C3', 'P4', { heard: false }),
    reception('C4', null, { heard: false, limit_dbm: -120 }),
  ],
} as unknown as Row
const ledger = {
  captures: [['C1', 'stepper'], ['C2', 'stepper'], ['C3', 'hand-held'], ['C4', 'stepper']].map(([id, chain]) => ({ id, chain })),
} as unknown as Ledger

describe('levels at positions', () => {
  it('are those of one chain, the loudest at each position', () => {
    expect(chainsOf(row, ledger)).toEqual(['stepper', 'hand-held'])
    const { at, unit, loudest } = levelsOf(row, ledger, 'stepper')
    expect(unit).toBe('dBm')
    expect(at.map((one) => [one.position, one.text])).toEqual([
      ['P1', '−55 dBm'], ['P2', 'not heard, under −100 dBm'], ['P3', '−40 dBm'],
    ])
    expect(loudest).toBe('P3')
  })
  it('are steps of a scale where nothing else is known', () => {
    const { at, unit, top } = levelsOf(row, ledger, 'hand-held')
    expect(unit).toBe('strength')
    expect(at.map((one) => one.text)).toEqual(['3 of 12', 'not heard'])
    expect(top).toBe(12)
  })
  it('are drawn with an area that grows with them', () => {
    const scale = { base: -100, top: -40 }
    expect(radius(-40, scale, 40)).toBe(40)
    // Half way: 0.1 + 0.9/2 of the area; below the base a tenth.
    expect(radius(-70, scale, 40) ** 2 / 1600).toBeCloseTo(0.55, 12)
    expect(radius(-130, scale, 40) ** 2 / 1600).toBeCloseTo(0.1, 12)
  })
})
