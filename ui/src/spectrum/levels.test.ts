import { describe, expect, it } from 'vitest'
import { bandsOf } from './axis'
import { boxOf, coarsest, keyOf, levelFor, noiseShift, tilesIn, visitS, type Spectrum } from './levels'
import { markAt, type Mark } from './marks'
import { Tiles } from './tiles'

// 180 s of 20 Msps as the server describes it, its levels thinned out.
const level = (f: number, time_levels: number[]) => ({
  frequency_level: f, cell_hz: 19531.25 * 2 ** f, low_hz: 425e6 - 19531.25 * 2 ** Math.min(f, 0) / 2,
  noise_bandwidth_hz: 29296.875 * 2 ** Math.min(f, 0), fine_noise_bandwidth_hz: 29296.875 * 2 ** f, time_levels,
})
const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)
const of: Spectrum = {
  key: 'k', low_hz: 425e6, high_hz: 445e6, centre_known: true, start: '2026-03-01T20:25:00Z', duration_s: 180,
  sample_rate_hz: 20e6, unit: 'dBFS', level_of_1: -155, step_db: 0.625, floor_db: -100, ceiling_db: -20, tile_cells: 256, tile_rows: 64,
  row_s: 0.0034304, segments: [],
  levels: [level(-5, range(-4, -2)), level(-1, range(-8, -2)), level(0, [...range(-9, -2), ...range(0, 13)]), level(1, [...range(-10, -2), ...range(0, 13)]), level(2, [...range(-11, -2), ...range(0, 13)])],
}
const all = { lowHz: 425e6, highHz: 445e6, fromS: 0, untilS: 180 }

describe('zoom levels', () => {
  it('never draws a cell smaller than a pixel: a lit one is never lost', () => {
    for (const width of [300, 800, 1023, 1025, 1400]) {
      for (const span of [20e6, 3e6, 200e3, 5e3]) {
        for (const time of [180, 20, 1, 0.05, 0.001]) {
          const view = { lowHz: 435e6 - span / 2, highHz: 435e6 + span / 2, fromS: 0, untilS: time }
          const found = levelFor(of, view, width, 600)!
          const cell = of.levels.find((one) => one.frequency_level === found.f)!.cell_hz
          if (found.f === 2 && found.t === 8) continue
          expect((cell / span) * width).toBeGreaterThanOrEqual(1)
          expect((of.row_s * 2 ** found.t * 600) / time).toBeGreaterThanOrEqual(1)
        }
      }
    }
  })
  it('takes the finest that may be', () => {
    // A thousand pixels are fewer than the 1024 cells.
    expect(levelFor(of, all, 1000, 600)).toEqual({ f: 1, t: 7 })
    expect(levelFor(of, all, 1200, 600)).toEqual({ f: 0, t: 7 })
    expect(coarsest(of)).toEqual({ f: 2, t: 8 })
  })
  it('asks for the tiles in view and no others', () => {
    const places = tilesIn(of, all, { f: 0, t: 7 })
    // 1024 cells of 256, and 410 rows of 64.
    const whole = range(0, 3).flatMap((column) => range(0, 6).map((row) => `0/7/${column}/${row}`))
    expect(places.map(keyOf).sort()).toEqual(whole)
    const narrow = { lowHz: 433.94e6, highHz: 433.96e6, fromS: 10, untilS: 10.01 }
    for (const place of tilesIn(of, narrow, { f: -5, t: -2 })) {
      const box = boxOf(of, place)
      expect(box.lowHz).toBeLessThan(narrow.highHz)
      expect(box.highHz).toBeGreaterThan(narrow.lowHz)
      expect(box.fromS).toBeLessThan(narrow.untilS)
      expect(box.untilS).toBeGreaterThan(narrow.fromS)
    }
  })
  it('joins the visits of a receiver that steps, so that no row is empty while many are in view', () => {
    const segment = (low_hz: number, start_s: number) => ({ low_hz, high_hz: low_hz + 2.4e6, start_s, duration_s: 0.02 })
    const steps = Array.from({ length: 100 }, (_, n) => [segment(97e6, n), segment(99.4e6, n + 0.022), segment(433e6, n + 0.044)]).flat()
    const stepped = { ...of, segments: steps }
    expect(visitS(stepped)).toBeCloseTo(1, 9)
    expect(visitS({ ...of, segments: [segment(425e6, 0)] })).toBe(0)
    expect(2 ** levelFor(stepped, all, 1200, 600, 1)!.t * of.row_s).toBeGreaterThan(0.8)
    const close = { ...all, fromS: 10, untilS: 13 }
    expect(levelFor(stepped, close, 1200, 600, 1)).toEqual(levelFor(stepped, close, 1200, 600))
    expect(bandsOf(stepped)).toEqual([{ low_hz: 97e6, high_hz: 101.8e6 }, { low_hz: 433e6, high_hz: 435.4e6 }])
  })
  it('shifts colours by how much noise falls with the bandwidth', () => {
    // 10 log10(1/32)
    expect(noiseShift(of, { f: -5, t: -2 })).toBeCloseTo(-15.05, 2)
    expect(noiseShift(of, { f: 2, t: 8 })).toBe(0)
    expect(noiseShift(of, { f: 2, t: -2 })).toBeCloseTo(6.02, 2)
  })
})

describe('emissions', () => {
  it('takes the narrowest band under the pointer, else the nearest within reach', () => {
    const mark = (id: string, low_hz: number, high_hz: number): Mark => ({ id, label: id, low_hz, high_hz, centre_hz: (low_hz + high_hz) / 2, open: true, words: 'open' })
    const marks = [mark('E1', 100, 200), mark('E2', 140, 150), mark('E3', 300, 301)]
    expect(markAt(marks, 145, 5)?.id).toBe('E2')
    expect(markAt(marks, 110, 5)?.id).toBe('E1')
    expect(markAt(marks, 304, 5)?.id).toBe('E3')
    expect(markAt(marks, 250, 5)).toBeNull()
  })
})

describe('tiles', () => {
  it('gives up what the view has left, and keeps no more than its bytes', async () => {
    const begun: { url: string; signal: AbortSignal; give: (a: Response) => void }[] = []
    const real = globalThis.fetch
    globalThis.fetch = ((url: string, init: RequestInit) =>
      new Promise<Response>((give, refuse) => {
        const signal = init.signal as AbortSignal
        signal.addEventListener('abort', () => refuse(new DOMException('gone', 'AbortError')))
        begun.push({ url, signal, give })
      })) as typeof fetch
    try {
      const wrong: unknown[] = []
      const tiles = new Tiles('/x', 'max', () => undefined, (error) => wrong.push(error))
      const place = (row: number) => ({ f: 0, t: 0, column: 0, row })
      tiles.want([0, 1, 2, 3, 4, 5].map(place))
      expect(begun.length).toBe(4)
      tiles.want([5, 6].map(place))
      expect(begun.map((one) => one.signal.aborted)).toEqual([true, true, true, true])
      await new Promise((done) => setTimeout(done, 0))
      expect(begun.slice(4).map((one) => one.url.match(/row=\d+/)?.[0])).toEqual(['row=5', 'row=6'])
      for (const one of begun.slice(4)) one.give({ ok: true, arrayBuffer: async () => new ArrayBuffer(65536) } as Response)
      await new Promise((done) => setTimeout(done, 10))
      expect([tiles.has(place(5)), tiles.has(place(0)), tiles.waits, wrong.length]).toEqual([true, false, false, 0])
      for (let row = 100; row < 180; row += 4) {
        tiles.want(range(row, row + 3).map(place))
        for (const one of begun.slice(-4)) one.give({ ok: true, arrayBuffer: async () => new ArrayBuffer(1 << 20) } as Response)
        await new Promise((done) => setTimeout(done, 1))
      }
      const kept = [...tiles.all].map((tile) => tile.place.row)
      expect(kept.length).toBeLessThanOrEqual(64)
      expect(kept.length).toBeGreaterThan(50)
      expect(kept.at(-1)).toBe(179)
    } finally {
      globalThis.fetch = real
    }
  })
})
