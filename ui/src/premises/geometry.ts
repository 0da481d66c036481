// Plane geometry of a floor plan: metres, x east and y north. An image of the plan has pixels, right and
// down from its upper left corner.

export type Point = readonly [x: number, y: number]
export type Polygon = readonly Point[]

/** How the image of a plan lies on it: metres a pixel, and the pixel at which the origin lies. */
export type Laid = { scale_m_per_px: number; origin_px: Point }

export const distance = (a: Point, b: Point): number => Math.hypot(b[0] - a[0], b[1] - a[1])

/** Area by the surveyor's formula, square metres; negative where the corners run clockwise. */
export function signedArea(polygon: Polygon): number {
  return sides(polygon).reduce((sum, [a, b]) => sum + (a[0] * b[1] - b[0] * a[1]) / 2, 0)
}

export const area = (polygon: Polygon): number => Math.abs(signedArea(polygon))

/** Whether a point lies in a polygon (crossing number, even-odd) or on its edge. */
export function contains(polygon: Polygon, [x, y]: Point): boolean {
  let inside = false
  for (const [a, b] of sides(polygon)) {
    const cross = (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])
    const along = (x - a[0]) * (x - b[0]) + (y - a[1]) * (y - b[1])
    if (Math.abs(cross) < 1e-9 && along <= 1e-9) return true
    if (a[1] > y !== b[1] > y && x < a[0] + ((y - a[1]) * (b[0] - a[0])) / (b[1] - a[1])) inside = !inside
  }
  return inside
}

/** The corner that lies farthest to the north-west: where a room's name is written. */
export function northWest(polygon: Polygon): Point {
  return polygon.reduce((best, one) => (one[1] - one[0] > best[1] - best[0] ? one : best), polygon[0] ?? [0, 0])
}

/** Whether two sides of a polygon that do not share a corner cross. */
export function crossesItself(polygon: Polygon): boolean {
  const all = sides(polygon)
  return all.some(([a, b], i) =>
    all.some(([c, d], j) => j > i + 1 && !(i === 0 && j === all.length - 1) && cross(a, b, c, d)),
  )
}

function cross(a: Point, b: Point, c: Point, d: Point): boolean {
  const side = (p: Point, q: Point, r: Point) =>
    Math.sign((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]))
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0
}

/** Of the rooms that a point lies in, the smallest. */
export function roomAt<R extends { corners_m: number[][] }>(rooms: readonly R[], at: Point): R | null {
  const found = rooms.filter((room) => room.corners_m.length > 2 && contains(points(room.corners_m), at))
  return found.sort((a, b) => area(points(a.corners_m)) - area(points(b.corners_m)))[0] ?? null
}

/** Corners of the record, which the wire gives as lists. */
export const points = (corners: readonly number[][]): Point[] => corners.map(([x = 0, y = 0]) => [x, y])

/** Metres a pixel, from two pixels and the metres between them; null where that gives no scale. */
export function scaleOf(a: Point, b: Point, metres: number): number | null {
  const pixels = distance(a, b)
  return pixels > 0 && metres > 0 && Number.isFinite(metres) ? metres / pixels : null
}

export const toPlan = ({ scale_m_per_px: s, origin_px: o }: Laid, [right, down]: Point): Point => [
  (right - o[0]) * s,
  (o[1] - down) * s,
]
export const toPixel = ({ scale_m_per_px: s, origin_px: o }: Laid, [x, y]: Point): Point => [
  o[0] + x / s,
  o[1] - y / s,
]

/** Degrees from north (y), clockwise, as one sees `to` from `from`: 0 to 360. */
export function bearing(from: Point, to: Point): number {
  const degrees = (Math.atan2(to[0] - from[0], to[1] - from[1]) * 180) / Math.PI
  return (degrees + 360) % 360
}

/** A point as a hand meant it: a corner within reach of it, else in line with one of `along` (the first
 * that is near), else on the grid. Metres. */
export function snapped(at: Point, corners: readonly Point[], along: readonly Point[], reach: number, grid = 0.1): Point {
  const near = corners.filter((one) => distance(one, at) <= reach)
  near.sort((a, b) => distance(a, at) - distance(b, at))
  if (near[0]) return near[0]
  const put = (axis: 0 | 1) =>
    along.find((one) => Math.abs(one[axis] - at[axis]) <= reach)?.[axis] ?? Number((Math.round(at[axis] / grid) * grid).toFixed(3))
  return [put(0), put(1)]
}

export type Bounds = { west: number; south: number; east: number; north: number }

export function bounds(all: readonly Point[]): Bounds | null {
  if (all.length === 0) return null
  const [xs, ys] = [all.map(([x]) => x), all.map(([, y]) => y)]
  return { west: Math.min(...xs), east: Math.max(...xs), south: Math.min(...ys), north: Math.max(...ys) }
}

/** A round length (1, 2 or 5 times a power of ten, metres) that is at most so many pixels long. */
export function roundLength(pixels: number, pixelsPerMetre: number): number {
  const most = pixels / pixelsPerMetre
  const power = 10 ** Math.floor(Math.log10(most))
  return ([5, 2, 1].find((n) => n * power <= most) ?? 1) * power
}

function sides(polygon: Polygon): [Point, Point][] {
  return polygon.map((corner, i) => [corner, polygon[(i + 1) % polygon.length] ?? corner])
}
