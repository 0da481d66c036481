// Floors, rooms and positions as the record has them, and how they depend on each other by name.
import type { Schemas, Survey } from '../api/client'
import { points, roomAt, type Point } from './geometry'

export type FloorPlan = Schemas['Floor']
export type Room = Schemas['Room']
export type Position = Schemas['Position']
export type Zone = Schemas['Zone']

export const ZONES: { zone: Zone; means: string }[] = [
  { zone: 'inside', means: 'in a room of the premises' },
  { zone: 'adjacent', means: 'corridor, next flat, floor above or below' },
  { zone: 'outside', means: 'outside the building' },
  { zone: 'moving', means: 'a vehicle' },
]

/** A thing without the id that the survey will give it. */
export function fresh<T extends { id: string }>(thing: T): T {
  const { id, ...rest } = thing
  return (id ? thing : rest) as T
}

/** Floors from the lowest up. */
export function storeys(floors: readonly FloorPlan[]): FloorPlan[] {
  const height = (floor: FloorPlan) => floor.height_m ?? (floor.level ?? 0) * 3
  return [...floors].sort((a, b) => height(a) - height(b))
}

/** What a floor shows: what lies on it, and what has a place but no floor (the street). */
export function onFloor(positions: readonly Position[], floor: string | null): Position[] {
  return positions.filter((one) => one.x_m !== null && (one.floor === floor || one.floor === null))
}

export const offPlan = (positions: readonly Position[]): Position[] => positions.filter((one) => one.x_m === null)

export const placed = (position: Position): Point | null =>
  position.x_m === null || position.y_m === null ? null : [position.x_m, position.y_m]

export const rounded = (metres: number): number => Math.round(metres * 100) / 100

/** A position that is proposed for a point: in the room that it lies in, else outside. */
export function proposed(record: Survey, floor: string | null, at: Point | null, height_m = 1.2): Position {
  const rooms = record.rooms.filter((room) => room.floor === floor && points(room.corners_m).length > 2)
  const room = at ? roomAt(rooms, at) : null
  const zone = !at || room || rooms.length === 0 ? 'inside' : 'outside'
  return {
    id: '', name: unused(record.positions, room?.name ?? (at ? 'Position' : 'Off plan')), zone, room: room?.name ?? null,
    floor: at ? floor : null, x_m: at ? rounded(at[0]) : null, y_m: at ? rounded(at[1]) : null, height_m,
  }
}

/** The name, with a number where it is taken. */
export function unused(all: readonly { name: string }[], name: string): string {
  const taken = (one: string) => all.some((other) => other.name.toLowerCase() === one.toLowerCase())
  if (!taken(name)) return name
  let n = 2
  while (taken(`${name} ${n}`)) n += 1
  return `${name} ${n}`
}

type Named = Partial<Pick<Survey, 'floors' | 'rooms' | 'positions' | 'photographs'>>

/** Those of the lists that differ from the record's: what another writes meanwhile of the rest stands. */
function changed(record: Survey, lists: Named): Named {
  const same = (a: readonly unknown[], b: readonly unknown[]) => a.length === b.length && a.every((one, i) => one === b[i])
  return Object.fromEntries(Object.entries(lists).filter(([key, list]) => !same(list, record[key as keyof Named] as unknown[])))
}

/** The record's parts with a room changed, and what names it. */
export function withRoom(record: Survey, before: Room | null, room: Room): Named {
  const rooms = before ? record.rooms.map((one) => (one.id === before.id ? room : one)) : [...record.rooms, fresh(room)]
  const named = <T extends { room: string | null }>(one: T): T =>
    before && before.name !== room.name && one.room === before.name ? { ...one, room: room.name } : one
  const positions = record.positions.map(named).map((one) => {
    const at = placed(one)
    const lies = one.room === null && one.floor === room.floor && at && roomAt([room], at)
    return lies ? { ...one, room: room.name } : one
  })
  return changed(record, { rooms, positions, photographs: record.photographs.map(named) })
}

export function withoutRoom(record: Survey, room: Room): Named {
  return changed(record, {
    rooms: record.rooms.filter((one) => one.id !== room.id),
    positions: record.positions.map((one) => (one.room === room.name ? { ...one, room: null } : one)),
  })
}

/** The record's parts with a floor changed, and what names it. */
export function withFloor(record: Survey, before: FloorPlan | null, floor: FloorPlan): Named {
  const named = <T extends { floor: string | null }>(one: T): T =>
    before && before.name !== floor.name && one.floor === before.name ? { ...one, floor: floor.name } : one
  return changed(record, {
    floors: before ? record.floors.map((one) => (one.id === before.id ? floor : one)) : [...record.floors, fresh(floor)],
    rooms: record.rooms.map(named),
    positions: record.positions.map(named),
  })
}
