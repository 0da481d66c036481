import { describe, expect, it } from 'vitest'
import type { Survey } from '../api/client'
import { fresh, proposed, storeys, unused, withFloor, withRoom, withoutRoom, type Position, type Room } from './places'

const room: Room = { id: 'M1', name: 'Study', floor: 'ground', used_for: null, corners_m: [[0, 0], [4, 0], [4, 3], [0, 3]] }
const position: Position = { id: 'P1', name: 'Study', zone: 'inside', room: 'Study', floor: 'ground', x_m: 1, y_m: 1, height_m: 1.2 }
const floor = { id: 'L1', name: 'ground', level: 0, height_m: 0 }
const record = { floors: [floor], rooms: [room], positions: [position], photographs: [{ id: 'G1', room: 'Study' }] } as unknown as Survey

describe('positions', () => {
  it('are proposed in the room that they lie in, under a name that is free', () => {
    expect(proposed(record, 'ground', [2, 2])).toMatchObject({ name: 'Study 2', room: 'Study', zone: 'inside', floor: 'ground', x_m: 2 })
    expect(proposed(record, 'ground', [9, 2])).toMatchObject({ name: 'Position', room: null, zone: 'outside' })
    expect(proposed(record, 'ground', null)).toMatchObject({ x_m: null, y_m: null, floor: null })
  })
  it('say a new room that they lie in', () => {
    const loose = { ...record, positions: [{ ...position, room: null }] }
    expect(withRoom(loose, null, { ...room, id: '', name: 'Den' }).positions?.[0]?.room).toBe('Den')
  })
})

describe('names', () => {
  it('carry over to what uses them', () => {
    expect(withRoom(record, room, { ...room, name: 'Library' }).positions?.[0]?.room).toBe('Library')
    expect(withRoom(record, room, { ...room, name: 'Library' }).photographs?.[0]?.room).toBe('Library')
    expect(withoutRoom(record, room)).toEqual({ rooms: [], positions: [{ ...position, room: null }] })
    const after = withFloor(record, floor, { ...floor, name: 'first' })
    expect(after.rooms?.[0]?.floor).toBe('first')
    expect(after.positions?.[0]?.floor).toBe('first')
  })
  it('leave alone what does not use them', () => {
    expect(Object.keys(withRoom(record, room, { ...room, used_for: 'reading' }))).toEqual(['rooms'])
    expect(Object.keys(withFloor(record, floor, { ...floor, height_m: 1 }))).toEqual(['floors'])
  })
  it('do not come twice', () => {
    expect(unused([{ name: 'desk' }, { name: 'Desk 2' }], 'Desk')).toBe('Desk 3')
  })
  it('leave a new thing without an id', () => {
    expect('id' in fresh({ ...room, id: '' })).toBe(false)
    expect(fresh(room)).toBe(room)
  })
})

it('floors stand from the lowest up', () => {
  const names = storeys([{ ...floor, name: 'b', height_m: 3 }, { ...floor, name: 'a', height_m: -3 }, { ...floor, name: 'c', level: 2, height_m: null }])
  expect(names.map((one) => one.name)).toEqual(['a', 'b', 'c'])
})
