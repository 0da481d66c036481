import { describe, expect, it } from 'vitest'
import { along, axisOf, gapAt, hzOf, receivedIn, STRAIGHT } from './axis'
import { tilesIn, boxOf, type Spectrum } from './levels'
import { about, hzAt, kept, moved, spanOf, xOf, zoomed, type Bounds } from './view'

// Three bands of 2 MHz and one of 20 MHz, far apart.
const segments = [[97e6, 2e6], [433e6, 2e6], [868e6, 2e6], [2.44e9, 20e6]].map(([low_hz = 0, wide = 0], n) =>
  ({ low_hz, high_hz: low_hz + wide, start_s: n, duration_s: 1 }))
const axis = axisOf({ segments })
const within: Bounds = { lowHz: 97e6, highHz: 2.46e9, fromS: 0, untilS: 60, leastHz: 1e3, leastS: 1e-4, axis }
const whole = { lowHz: 97e6, highHz: 2.46e9, fromS: 0, untilS: 60 }

describe('a broken axis', () => {
  it('shows each band to scale, and gaps as narrow strips', () => {
    const wide = (low: number, high: number) => xOf(whole, high, 1200, axis) - xOf(whole, low, 1200, axis)
    expect(wide(97e6, 99e6)).toBeGreaterThan(80)
    expect(wide(433e6, 435e6)).toBeCloseTo(wide(97e6, 99e6), 6)
    expect(wide(2.44e9, 2.46e9)).toBeCloseTo(10 * wide(97e6, 99e6), 6)
    expect(wide(99e6, 433e6)).toBeLessThan(40)
    expect(wide(99e6, 433e6)).toBeGreaterThan(4)
  })
  it('goes there and back in bands and gaps, and past both ends', () => {
    for (const hz of [50e6, 97e6, 98.123456e6, 99e6, 200e6, 433e6, 433.95e6, 2.4599e9, 3e9]) {
      expect(hzOf(axis, along(axis, hz))).toBeCloseTo(hz, 3)
      expect(hzAt(whole, xOf(whole, hz, 977, axis), 977, axis)).toBeCloseTo(hz, 2)
    }
  })
  it('keeps what is under the pointer in its place while it zooms across gaps, down to bins', () => {
    const x = xOf(whole, 433.95e6, 1, axis)
    let view = whole
    for (let turn = 0; turn < 40; turn++) view = zoomed(view, x, 0.5, 0.7, 1, within)
    expect(xOf(view, 433.95e6, 1, axis)).toBeCloseTo(x, 6)
    expect(view.highHz - view.lowHz).toBeCloseTo(1e3, 3)
  })
  it('pans along what was received, and stays inside', () => {
    const one = about(whole, 434e6, 1.5e6, within)
    const next = moved(one, 1.5, 0, within)
    expect(spanOf(next, axis)).toBeCloseTo(spanOf(one, axis), 3)
    expect(next.highHz).toBeGreaterThan(868e6)
    expect(moved(one, 1e6, 0, within).highHz).toBeCloseTo(2.46e9, 3)
    expect(kept({ ...whole, lowHz: 0, highHz: 9e9 }, within)).toEqual(whole)
  })
  it('asks for no tiles of gaps', () => {
    const of = { low_hz: 97e6, high_hz: 2.46e9, duration_s: 60, tile_cells: 256, tile_rows: 64, row_s: 0.3, levels: [{ frequency_level: 0, cell_hz: 1e4, low_hz: 97e6, time_levels: [0] }] } as Spectrum
    const places = tilesIn(of, whole, { f: 0, t: 0 }, axis)
    expect(places.length).toBeLessThanOrEqual(4 * (2 * 3 + 9))
    for (const place of places) expect(receivedIn(axis, boxOf(of, place).lowHz, boxOf(of, place).highHz).length).toBeGreaterThan(0)
  })
  it('says what was not received', () => {
    expect(gapAt(axis, 300e6)).toMatchObject({ lowHz: 99e6, highHz: 433e6 })
    expect(gapAt(axis, 433.5e6)).toBeNull()
    expect(receivedIn(axis, 98e6, 434e6)).toEqual([{ lowHz: 98e6, highHz: 99e6 }, { lowHz: 433e6, highHz: 434e6 }])
  })
  it('is straight where one band, or bands that touch, were received', () => {
    expect(axisOf({ segments: segments.slice(0, 1) })).toBe(STRAIGHT)
    expect(axisOf({ segments: [segments[0]!, { ...segments[0]!, low_hz: 99e6, high_hz: 101e6 }] })).toBe(STRAIGHT)
    expect(along(STRAIGHT, 123)).toBe(123)
  })
})
