import { expect, it } from 'vitest'
import { places, type Covered } from './coverage'

const band = (place: string, zone: Covered['zone'] = 'inside'): Covered => ({
  place, zone, inside: zone === 'inside', band_hz: [400e6, 470e6], listened_s: 600, longest_s: 300, in_turns: false,
  conditions: [{ name: 'empty', listened_s: 600 }], limit_dbm: -90, limit_dbfs: null,
})

it('groups by place and zone', () => {
  const all = places([band('a'), band('b'), band('a'), band('a', 'outside')])
  expect(all.map((one) => [one.name, one.zone, one.bands.length])).toEqual([['a', 'inside', 2], ['b', 'inside', 1], ['a', 'outside', 1]])
})
