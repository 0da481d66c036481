import { describe, expect, it } from 'vitest'
import { offsetAt, ticks, within, x, zoomed } from './axis'
import { bars } from './draw'
import { firstAfter } from './lanes'

const day = { from: Date.parse('2026-03-05T00:00:00Z'), to: Date.parse('2026-03-06T00:00:00Z') }

describe('the axis', () => {
  it('keeps in place what one zooms on, and stays within what there is', () => {
    const at = day.from + 6 * 3600e3
    const near = zoomed(day, day, 0.1, at)
    expect(x(near, 1000, at)).toBeCloseTo(x(day, 1000, at), 6)
    expect(within({ from: day.from - 1e9, to: day.from - 1e9 + 1000 }, day)).toEqual({ from: day.from, to: day.from + 1000 })
    expect(zoomed(day, day, 1e-12, at).to - zoomed(day, day, 1e-12, at).from).toBeCloseTo(1, 3)
  })
  // Offsets from the IANA time zone database: Dublin is UTC in winter and UTC+1 in summer.
  it('marks round times of the survey’s clock', () => {
    expect(offsetAt(Date.parse('2026-07-01T12:00:00Z'), 'Europe/Dublin')).toBe(3600e3)
    expect(offsetAt(day.from, 'Europe/Dublin')).toBe(0)
    const labels = ticks({ from: Date.parse('2026-07-01T11:30:00Z'), to: Date.parse('2026-07-01T13:30:00Z') }, 400, 'Europe/Dublin').map((one) => one.label)
    expect(labels).toEqual(['12:30', '13:00', '13:30', '14:00', '14:30'])
  })
})

describe('bars', () => {
  const shown = (spans: number[], width = 1000) => {
    const out: [number, number][] = []
    bars(Float64Array.from(spans), { view: { from: 0, to: 1e6 }, width }, (from, to) => out.push([from, to]))
    return out
  }
  it('show the shortest on-time at any zoom', () => {
    expect(shown([500_000, 500_000.001])).toEqual([[500, 502]])
  })
  it('are never more than pixels, and lose none of the time that is filled', () => {
    const dense = Array.from({ length: 100_000 }, (_, i) => [i * 10, i * 10 + 5]).flat()
    const out = shown(dense)
    expect(out.length).toBeLessThanOrEqual(1000)
    expect(out.at(-1)?.[1]).toBeGreaterThanOrEqual(999)
  })
  it('are found from the first that is in view', () => {
    expect(firstAfter(Float64Array.from([0, 1, 5, 6, 9, 10]), 5.5)).toBe(1)
    expect(firstAfter(Float64Array.from([0, 1]), 2)).toBe(1)
  })
})
