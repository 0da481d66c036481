import { describe, expect, it } from 'vitest'
import { parseOf, parseStrength } from './typed'

describe('what a reading is of', () => {
  it('is a frequency, a band or a row', () => {
    expect(parseOf('433.92 MHz')).toEqual({ band: { low_hz: 433_920_000, high_hz: 433_920_000 } })
    expect(parseOf('380-470 MHz')).toEqual({ band: { low_hz: 380e6, high_hz: 470e6 } })
    expect(parseOf('880 MHz to 1.2 GHz')).toEqual({ band: { low_hz: 880e6, high_hz: 1.2e9 } })
    expect(parseOf(' e7 ')).toEqual({ emission: 'E7' })
  })
  it('is not anything else', () => {
    for (const text of ['', 'low', '470-380 MHz', '-5 MHz', '1-2-3 MHz']) expect(parseOf(text), text).toBeNull()
  })
})

describe('how strong it is', () => {
  it('is a step of a scale or a level', () => {
    expect(parseStrength('7/12', null)).toEqual({ strength: { value: 7, of: 12 } })
    expect(parseStrength('7', 12)).toEqual({ strength: { value: 7, of: 12 } })
    expect(parseStrength('−61,5 dBm', null)).toEqual({ level_dbm: -61.5 })
  })
  it('is not anything else', () => {
    for (const text of ['', '7', '13/12', 'strong', '-61']) expect(parseStrength(text, null), text).toBeNull()
    expect(parseStrength('13', 12)).toBeNull()
  })
})
