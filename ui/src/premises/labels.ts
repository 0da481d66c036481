// Where a label stands beside its mark on the plan: where no wall crosses it or comes between, below first.
export type Box = { x: number; y: number; width: number; height: number }
export type Wall = [x0: number, y0: number, x1: number, y1: number]

/** The middle of a label's upper edge, of those beside a mark of radius `r` the first with no wall through it
 * or between, and no other label or mark on it; below where all have. */
export function beside(at: readonly [number, number], r: number, size: { width: number; height: number }, walls: readonly Wall[], taken: readonly Box[]): [number, number] {
  const [x, y] = at
  const off = r + 6 + size.width / 2
  const places: [number, number][] = [[x, y + r + 4], [x + off, y - size.height / 2], [x - off, y - size.height / 2], [x, y - r - 4 - size.height]]
  const free = ([px, py]: [number, number]) => {
    const box = boxOf([px, py], size)
    return !walls.some((wall) => crosses(wall, hull(box, x, y))) && !taken.some((other) => overlap(other, box))
  }
  return places.find(free) ?? places[0]!
}

export const boxOf = ([x, y]: [number, number], { width, height }: { width: number; height: number }): Box => ({ x: x - width / 2, y, width, height })

/** A box and a point, and all between. */
function hull(box: Box, x: number, y: number): Box {
  const [left, top] = [Math.min(box.x, x), Math.min(box.y, y)]
  return { x: left, y: top, width: Math.max(box.x + box.width, x) - left, height: Math.max(box.y + box.height, y) - top }
}

const overlap = (a: Box, b: Box) => a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height

/** Whether a stretch of wall comes into a box (Liang and Barsky's clipping). */
export function crosses([x0, y0, x1, y1]: Wall, box: Box): boolean {
  let [from, until] = [0, 1]
  for (const [at, by, low, high] of [[x0, x1 - x0, box.x, box.x + box.width], [y0, y1 - y0, box.y, box.y + box.height]] as const) {
    if (by === 0) {
      if (at <= low || at >= high) return false
      continue
    }
    const [a, b] = [(low - at) / by, (high - at) / by]
    from = Math.max(from, Math.min(a, b))
    until = Math.min(until, Math.max(a, b))
  }
  return from < until
}
