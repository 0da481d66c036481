import { describe, expect, it } from 'vitest'
import {
  area, bearing, bounds, contains, crossesItself, northWest, roomAt, roundLength, scaleOf, signedArea, snapped,
  toPixel, toPlan, type Point,
} from './geometry'

const square: Point[] = [[0, 0], [4, 0], [4, 4], [0, 4]]
/** An L: a square of 4 with its upper right quarter missing. */
const ell: Point[] = [[0, 0], [4, 0], [4, 2], [2, 2], [2, 4], [0, 4]]
/** A U, open to the north: 6 by 4 less a bay of 4 by 3. */
const bay: Point[] = [[0, 0], [6, 0], [6, 4], [5, 4], [5, 1], [1, 1], [1, 4], [0, 4]]

describe('polygons', () => {
  // Closed forms: areas and centroids of rectangles, put together.
  it('have the area of their rectangles', () => {
    expect(area(square)).toBe(16)
    expect(area(ell)).toBe(12)
    expect(area(bay)).toBe(12)
    expect(signedArea(square.toReversed())).toBe(-16)
    // A regular hexagon of side 1: 3√3/2.
    const hexagon = Array.from({ length: 6 }, (_, i): Point => [Math.cos((i * Math.PI) / 3), Math.sin((i * Math.PI) / 3)])
    expect(area(hexagon)).toBeCloseTo((3 * Math.sqrt(3)) / 2, 12)
  })
  it('hold what lies in them, and their edge', () => {
    expect(contains(ell, [1, 3])).toBe(true)
    expect(contains(ell, [3, 3])).toBe(false)
    expect(contains(ell, [2, 3])).toBe(true)
    expect(contains(ell, [4, 0])).toBe(true)
    expect(contains(bay, [3, 2])).toBe(false)
    expect(contains(bay, [5.5, 3.9])).toBe(true)
    // A ray through corners counts each once.
    expect(contains([[0, 0], [2, 2], [4, 0], [2, -2]], [1, 0])).toBe(true)
    expect(contains([[0, 0], [2, 2], [4, 0], [2, -2]], [-1, 0])).toBe(false)
  })
  it('have a corner in the north-west', () => {
    expect(northWest(ell)).toEqual([0, 4])
    expect(northWest([[0, 0], [4, 0], [4, 6], [3, 6]])).toEqual([3, 6])
  })
  it('are told when they cross themselves', () => {
    expect(crossesItself(ell)).toBe(false)
    expect(crossesItself([[0, 0], [4, 4], [4, 0], [0, 4]])).toBe(true)
  })
  it('give the smallest room', () => {
    const rooms = [{ name: 'hall', corners_m: square.map((p) => [...p]) }, { name: 'booth', corners_m: [[1, 1], [2, 1], [2, 2], [1, 2]] }]
    expect(roomAt(rooms, [1.5, 1.5])?.name).toBe('booth')
    expect(roomAt(rooms, [3, 3])?.name).toBe('hall')
    expect(roomAt(rooms, [5, 5])).toBeNull()
  })
})

describe('the image of a plan', () => {
  it('is scaled by two clicks and a length', () => {
    // A triangle of 3, 4, 5: 500 pixels for 10 m.
    expect(scaleOf([100, 100], [400, 500], 10)).toBe(0.02)
    expect(scaleOf([1, 1], [1, 1], 10)).toBeNull()
    expect(scaleOf([0, 0], [1, 1], 0)).toBeNull()
  })
  it('lies on the plan with north up', () => {
    const laid = { scale_m_per_px: 0.02, origin_px: [100, 900] as const }
    expect(toPlan(laid, [100, 900])).toEqual([0, 0])
    expect(toPlan(laid, [600, 400])).toEqual([10, 10])
    expect(toPixel(laid, [10, 10])).toEqual([600, 400])
  })
})

describe('what a hand means', () => {
  it('is a corner, a line or the grid', () => {
    expect(snapped([4.1, 0.1], square, [], 0.3)).toEqual([4, 0])
    expect(snapped([7.04, 3.9], [], [[7.2, 1], [0, 4]], 0.3)).toEqual([7.2, 4])
    expect(snapped([7.04, 3.97], [], [], 0.3)).toEqual([7, 4])
  })
  it('is a bearing from north, clockwise', () => {
    expect(bearing([1, 1], [1, 5])).toBe(0)
    expect(bearing([1, 1], [5, 1])).toBe(90)
    expect(bearing([0, 0], [-1, -1])).toBeCloseTo(225, 12)
  })
})

it('bounds hold every point', () => {
  expect(bounds(ell)).toEqual({ west: 0, east: 4, south: 0, north: 4 })
  expect(bounds([])).toBeNull()
})

it('a scale bar has a round length', () => {
  expect(roundLength(120, 20)).toBe(5)
  expect(roundLength(120, 100)).toBe(1)
  expect(roundLength(120, 0.05)).toBe(2000)
})
