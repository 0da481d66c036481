import { describe, expect, it } from 'vitest'
import type { Survey } from '../api/client'
import { blank, dated, pasted, placed, timeOfDay, told } from './sheet'

describe('cells of a spreadsheet', () => {
  it('come as it copies them', () => {
    // Tab-separated text as RFC 4180 quotes it.
    expect(pasted('a\tb\r\n"c ""d""\ne"\t\r\n')).toEqual([['a', 'b'], ['c "d"\ne', '']])
    expect(pasted('one')).toEqual([['one']])
  })
  it('fill the grid from one cell on', () => {
    const rows = placed([{ ...blank(), position: 'Desk' }], [['21:40', '433 MHz'], ['21:45', '868 MHz']], 0, 1)
    expect(rows).toHaveLength(2)
    expect(rows[0]).toMatchObject({ position: 'Desk', time: '21:40', of: '433 MHz' })
    expect(rows[1]).toMatchObject({ position: '', time: '21:45', of: '868 MHz' })
  })
})

describe('times of a walk', () => {
  it('are read as people write them', () => {
    expect(['21:40', '21.40', '2140', '9:05:30', '905', '24:00', 'soon', '9'].map(timeOfDay)).toEqual(['21:40', '21:40', '21:40', '09:05:30', '09:05', null, null, null])
  })
  it('take the offset that tells which, in an hour that comes twice', () => {
    expect(dated('2026-10-25', ['0:50', '01:30 +01:00', '01:30+00:00'])).toEqual(['2026-10-25T00:50', '2026-10-25T01:30+01:00', '2026-10-25T01:30+00:00'])
  })
  it('go over midnight', () => {
    expect(dated('2026-02-28', ['23:50', '', '00:10', '00:05', '01:00'])).toEqual([
      '2026-02-28T23:50', null, '2026-03-01T00:10', '2026-03-01T00:05', '2026-03-01T01:00',
    ])
  })
})

describe('a row', () => {
  const record = { positions: [{ id: 'P1', name: 'Desk' }] } as unknown as Survey
  const cells = { position: 'desk', time: '21:40', of: '433.92 MHz', strength: '7', bearing: '', heard: 'hum', note: '' }
  const chain = { name: 'hand-held', scale_steps: 12 }
  it('becomes a reading, and its note a remark', () => {
    expect(told({ ...cells, note: 'door open' }, '2026-03-05T21:40', record, chain, false)).toEqual({
      reading: { kind: 'reading', at: 'P1', when: '2026-03-05T21:40', band: { low_hz: 433.92e6, high_hz: 433.92e6 }, strength: { value: 7, of: 12 }, bearing_deg: null, heard: 'hum', chain: 'hand-held' },
      remark: { kind: 'remark', at: 'P1', from: '2026-03-05T21:40', text: 'door open' },
    })
  })
  it('takes a bearing in degrees from north', () => {
    expect(told({ ...cells, bearing: '270°' }, 'x', record, chain, false)).toMatchObject({ reading: { bearing_deg: 270 } })
    expect(told({ ...cells, bearing: '45,5' }, 'x', record, chain, false)).toMatchObject({ reading: { bearing_deg: 45.5 } })
    expect(told({ ...cells, bearing: '360' }, 'x', record, chain, false)).toMatchObject({ reading: { bearing_deg: 0 } })
    for (const bearing of ['361', 'north', '-5']) expect(told({ ...cells, bearing }, 'x', record, chain, false)).toContain(bearing)
    // A bearing alone is a reading that lacks what it is of.
    expect(told({ ...cells, of: '', strength: '', heard: '', bearing: '90' }, 'x', record, chain, false)).toContain('band')
  })
  it('says what it lacks', () => {
    expect(told({ ...cells, position: 'Shed' }, 'x', record, chain, false)).toContain('Shed')
    expect(told({ ...cells, position: 'Shed' }, 'x', record, chain, true)).toMatchObject({ reading: { at: 'Shed' } })
    expect(told(cells, null, record, chain, false)).toContain('21:40')
    expect(told({ ...cells, strength: '13' }, 'x', record, chain, false)).toContain('13')
    expect(told({ ...cells, of: '' }, 'x', record, chain, false)).toContain('band')
  })
})
