import { describe, expect, it } from 'vitest'
import { bytes, decibels, hertz, lasting, parseHertz, width } from './words'

describe('numbers', () => {
  // SI prefixes: BIPM, The International System of Units, 9th edition, table 7.
  it('takes the prefix that suits', () => {
    expect(hertz(433_920_000)).toBe('433.92 MHz')
    expect(hertz(2_402_000_000)).toBe('2.402 GHz')
    expect(hertz(-61_060)).toBe('-61.06 kHz')
    expect(hertz(0)).toBe('0 Hz')
    expect(width(12_480)).toBe('12.5 kHz')
  })
  it('tells lengths of time in the units of a clock', () => {
    expect(lasting(0.0116)).toBe('11.6 ms')
    expect(lasting(185)).toBe('3 min 5 s')
    expect(lasting(180)).toBe('3 min')
    expect(lasting(25_920)).toBe('7 h 12 min')
    expect(lasting(24 * 3600)).toBe('24 h')
    expect(lasting(267 * 86_400 + 3 * 3600)).toBe('267 d 3 h')
    expect(lasting(59.9999)).toBe('60 s')
  })
  it('keeps the unit of a level', () => {
    expect(decibels(-61.4, 'dBm')).toBe('−61 dBm')
    expect(decibels(null)).toBe('–')
  })
  it('reads what a person types', () => {
    expect(parseHertz('433.92 MHz')).toBe(433_920_000)
    expect(parseHertz('868,3M')).toBe(868_300_000)
    expect(parseHertz('1e6')).toBe(1_000_000)
    expect(parseHertz('fast')).toBeNull()
  })
  it('counts bytes in thousands', () => {
    expect(bytes(7_200_000_000)).toBe('7.2 GB')
  })
})
