import { describe, expect, it } from 'vitest'
import { beside, boxOf, crosses, type Wall } from './labels'

const size = { width: 60, height: 18 }
// A corridor 56 high between two walls, with a mark in its middle.
const walls: Wall[] = [[0, 0, 500, 0], [0, 56, 500, 56]]

describe('labels on the plan', () => {
  it('stand below where there is room, else beside', () => {
    expect(beside([200, 300], 20, size, walls, [])).toEqual([200, 324])
    const [x, y] = beside([200, 28], 15, size, walls, [])
    expect(x).toBeGreaterThan(215)
    expect(walls.some((wall) => crosses(wall, boxOf([x, y], size)))).toBe(false)
  })
  it('go to the other side of a wall or of what stands there', () => {
    expect(beside([200, 28], 15, size, [...walls, [230, 0, 230, 56]], [])[0]).toBeLessThan(185)
    expect(beside([200, 28], 15, size, walls, [{ x: 220, y: 10, width: 50, height: 30 }])[0]).toBeLessThan(185)
  })
  it('stand in the room of their mark, though the next has room too', () => {
    expect(beside([200, 28], 27, size, walls, [])[0]).toBeGreaterThan(227)
  })
  it('stay below where nothing is free', () => {
    expect(beside([200, 28], 15, size, [...walls, [230, 0, 230, 56], [170, 0, 170, 56]], [])).toEqual([200, 47])
  })
  it('cross a wall that slants through them, not one that ends before', () => {
    const box = { x: 0, y: 0, width: 10, height: 10 }
    expect(crosses([-5, -5, 15, 15], box)).toBe(true)
    expect(crosses([-5, 8, 2, 30], box)).toBe(false)
    expect(crosses([20, 0, 20, 10], box)).toBe(false)
  })
})
