import { describe, expect, it } from 'vitest'
import { headerRow, named, parse, place, write } from './mapping'

// The examples of docs/formats.md, 'The mapping'.
const WRITTEN = [
  'time=Time:%d.%m.%Y %H:%M,band=Band,strength=Bars/12,duration=Secs:s',
  'date=1,time=2,frequency=3:MHz,level="Level, peak":dBm,position=Where',
  'time="Start: local":"%b %d, %Y %H:%M",frequency=F:kHz,strength=S/5',
  'shape=sweep,frequency=:MHz,level=:dBm',
]

describe('a mapping', () => {
  it('comes back as it was written', () => {
    for (const text of WRITTEN) expect(write(parse(text))).toBe(text)
  })
  it('parts column and unit at the first colon, a strength at the last slash', () => {
    expect(parse(WRITTEN[0] ?? '')[0]).toEqual({ key: 'time', column: 'Time', after: '%d.%m.%Y %H:%M' })
    expect(parse('strength="a/b"/12')[0]).toEqual({ key: 'strength', column: 'a/b', after: '12' })
    expect(parse('level="say ""hi""":dBm')[0]?.column).toBe('say "hi"')
  })
  it('finds its columns', () => {
    const rows = [['A night'], ['Time', 'Band', 'Bars'], ['21:30', '900', '7']]
    expect(headerRow(rows, parse('time=Time,band=band'))).toBe(1)
    expect(headerRow(rows.slice(2), [])).toBe(-1)
    expect(place({ key: 'band', column: 'band', after: '' }, rows[1] ?? [])).toBe(1)
    expect(place({ key: 'band', column: '3', after: '' }, rows[1] ?? [])).toBe(2)
    expect(named(1, rows[1] ?? [])).toBe('Band')
    expect(named(1, ['x', 'x'])).toBe('2')
    expect(named(0, ['12'])).toBe('"12"')
  })
})
