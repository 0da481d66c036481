import { describe, expect, it } from 'vitest'
import { bandsText, parseBands } from './bands'

describe('bands', () => {
  it('are read as people write them', () => {
    expect(parseBands('863-870 MHz, 2.4–2.5 GHz')).toEqual([
      { low_hz: 863e6, high_hz: 870e6 }, { low_hz: 2.4e9, high_hz: 2.5e9 },
    ])
    expect(parseBands('900 kHz - 1,5 MHz')).toEqual([{ low_hz: 900e3, high_hz: 1.5e6 }])
    expect(parseBands('')).toEqual([])
    expect(parseBands('870-863 MHz')).toBeNull()
    expect(parseBands('the lower half')).toBeNull()
  })
  it('come back as they went', () => {
    const bands = [{ low_hz: 863e6, high_hz: 870e6 }, { low_hz: 950e6, high_hz: 1.2e9 }]
    expect(bandsText(bands)).toBe('863–870 MHz, 950 MHz–1.2 GHz')
    expect(parseBands(bandsText(bands))).toEqual(bands)
  })
})
