import { describe, expect, it } from 'vitest'
import { hertzLabels, hzAt, kept, moved, sAt, ticks, timeTicks, unitOf, xOf, yOf, zoomed, type Bounds } from './view'

const within: Bounds = { lowHz: 425e6, highHz: 445e6, fromS: 0, untilS: 180, leastHz: 1e4, leastS: 1e-5 }
const whole = { lowHz: 425e6, highHz: 445e6, fromS: 0, untilS: 180 }

describe('what is in view', () => {
  it('keeps what is under the pointer in its place while it zooms', () => {
    const before = hzAt(whole, 300, 1200)
    const closer = zoomed(whole, 300 / 1200, 0.75, 0.25, 0.5, within)
    expect(hzAt(closer, 300, 1200)).toBeCloseTo(before, 3)
    expect(sAt(closer, 525, 700)).toBeCloseTo(sAt(whole, 525, 700), 9)
    expect(closer.highHz - closer.lowHz).toBeCloseTo(5e6, 3)
    expect(closer.untilS - closer.fromS).toBeCloseTo(90, 9)
  })
  it('never leaves what there is, nor goes under the least', () => {
    const far = zoomed(whole, 0, 0, 50, 50, within)
    expect(far).toEqual(whole)
    const near = zoomed(whole, 0.5, 0.5, 1e-9, 1e-12, within)
    expect(near.highHz - near.lowHz).toBeCloseTo(1e4, 3)
    expect(near.untilS - near.fromS).toBeCloseTo(1e-5, 12)
    const edge = moved({ ...whole, highHz: 430e6 }, -3, -3, within)
    expect(edge).toEqual({ ...whole, highHz: 430e6 })
    expect(kept({ lowHz: 444e6, highHz: 449e6, fromS: 0, untilS: 180 }, within).lowHz).toBe(440e6)
  })
  it('goes there and back', () => {
    for (const hz of [425e6, 433.95e6, 445e6]) expect(hzAt(whole, xOf(whole, hz, 977), 977)).toBeCloseTo(hz, 3)
    for (const s of [0, 17.3, 180]) expect(sAt(whole, yOf(whole, s, 411), 411)).toBeCloseTo(s, 9)
  })
})

describe('axes', () => {
  it('has round numbers inside the span, no more than asked for', () => {
    expect(ticks(425e6, 445e6, 10).at).toEqual([426, 428, 430, 432, 434, 436, 438, 440, 442, 444].map((mhz) => mhz * 1e6))
    expect(ticks(-120, -50, 6)).toEqual({ at: [-120, -100, -80, -60], step: 20 })
    expect(ticks(1, 1, 5).at).toEqual([])
    for (const most of [2, 5, 9, 17]) expect(ticks(432.123e6, 432.987e6, most).at.length).toBeLessThanOrEqual(most + 1)
  })
  it('counts time by seconds, minutes and hours', () => {
    expect(timeTicks(0, 180, 7).step).toBe(30)
    expect(timeTicks(0, 10 * 3600, 7).step).toBe(7200)
    expect(timeTicks(1.0001, 1.0002, 5).step).toBeCloseTo(2e-5, 9)
  })
  it('labels in one unit, with the decimals that tell the ticks apart', () => {
    expect(hertzLabels([433.95e6, 434e6], 5e4, unitOf(434e6).scale)).toEqual(['433.95', '434.00'])
    expect(hertzLabels([-5e5, 0, 5e5], 5e5, unitOf(5e5).scale)).toEqual(['−500', '0', '500'])
    expect(unitOf(2.4e9).unit).toBe('GHz')
  })
})
