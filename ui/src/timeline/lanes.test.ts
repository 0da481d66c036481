import { describe, expect, it } from 'vitest'
import type { Work } from '../lib/work.svelte'
import { airy, boundsOf, stretches, undated, type Lane } from './lanes'

const HOUR = 3600e3
const lane = (...bars: number[]): Lane => ({ key: '', label: '', note: '', kind: 'said', bars: Float64Array.from(bars), words: [], looks: [], listened: new Float64Array(), state: null })

describe('the first span', () => {
  it('holds all that has a time', () => {
    const bounds = boundsOf([lane(0, HOUR), lane(5 * HOUR, 5 * HOUR), lane(900 * HOUR, 901 * HOUR)])
    expect(bounds!.from).toBeLessThanOrEqual(0)
    expect(bounds!.to).toBeGreaterThanOrEqual(901 * HOUR)
    expect(boundsOf([lane()])).toBeNull()
  })
  it('is parted where most of it is empty, each part with all that is in it', () => {
    const lanes = [lane(0, HOUR, 5 * HOUR, 6 * HOUR), lane(3 * HOUR, 3 * HOUR), lane(900 * HOUR, 901 * HOUR)]
    const parts = stretches(lanes, boundsOf(lanes)!)
    expect(parts).toEqual([{ from: 0, to: 6 * HOUR }, { from: 900 * HOUR, to: 901 * HOUR }])
    expect(airy({ from: HOUR, to: HOUR })).toEqual({ from: HOUR - 60e3, to: HOUR + 60e3 })
  })
  it('is one while a night has pauses, or two nights fill it', () => {
    const night = [lane(0, HOUR, 9 * HOUR, 12 * HOUR)]
    expect(stretches(night, boundsOf(night)!)).toEqual([])
    const nights = [lane(0, 10 * HOUR, 24 * HOUR, 34 * HOUR)]
    expect(stretches(nights, boundsOf(nights)!)).toEqual([])
  })
})

describe('captures without a time', () => {
  it('are told, unless they are set aside', () => {
    const capture = (id: string, start: string | null, set_aside: string | null = null) => ({ id, start, stop: start, set_aside })
    const work = { ledger: { captures: [capture('C1', '2026-03-05T20:00:00Z'), capture('C2', null), capture('C3', null, 'the antenna was loose'), capture('C4.1', null), capture('C4.2', null)] } } as unknown as Work
    expect(undated(work)).toEqual(['C2', 'C4'])
  })
})
