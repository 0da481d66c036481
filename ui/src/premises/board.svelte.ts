// What is under the hand on the plan: the floor, the chosen place, the tool that takes the next taps.
import type { Point } from './geometry'
import type { Position } from './places'

/** Takes taps until it is put away. */
export type Tool = { hint: string; take: (at: Point) => void }

export class Board {
  /** Name of the floor that is shown. */
  floor = $state<string | null>(null)
  /** The place that is worked at; without an id while it is only proposed. */
  chosen = $state.raw<Position | null>(null)
  tool = $state.raw<Tool | null>(null)
  /** Corners of a room that is drawn or mended. */
  corners = $state.raw<Point[] | null>(null)
  closed = $state(false)
  /** Points that were clicked on the image of a plan. */
  clicks = $state.raw<Point[]>([])

  /** Ends whatever is being drawn. */
  clear(): void {
    this.tool = null
    this.corners = null
    this.closed = false
    this.clicks = []
  }
}
