import { describe, expect, it } from 'vitest'
import { limits, places, type Covered } from './coverage'

const band = (place: string, more: Partial<Covered> = {}): Covered => ({
  place, zone: 'inside', inside: true, band_hz: [400e6, 470e6], listened_s: 600, longest_s: 300, in_turns: false,
  conditions: [{ name: 'empty', listened_s: 600 }], limit_dbm: -90, limit_dbfs: null, ...more,
})
const of = (covered: Covered[]) => limits({ version: 1, covered, rooms_not_heard: [], checks: [], waiting: 0 }).join(' ')

describe('what a survey cannot say', () => {
  it('names the longest unbroken listening of each room', () => {
    expect(of([band('Study'), band('Study', { longest_s: 900 }), band('Hall', { longest_s: 60 })]))
      .toContain('Study 15 min, Hall 1 min.')
  })
  it('does not count what was looked at in turns', () => {
    const said = of([band('Study', { in_turns: true })])
    expect(said).toContain('without a gap')
    expect(said).toContain('In Study bands were looked at in turns')
  })
  it('says of a room always empty that voice may not have woken anything', () => {
    expect(of([band('Study')])).toContain('Study: never listened to in use')
    expect(of([band('Study', { conditions: [{ name: 'meeting', listened_s: 1 }] })])).not.toContain('never listened')
  })
  it('groups by place and zone', () => {
    expect(places([band('a'), band('b'), band('a')]).map((one) => one.bands.length)).toEqual([2, 1])
  })
})
