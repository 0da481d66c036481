// What part of a plan is on the screen: metres to pixels, kept by d3-zoom, north up.
import { select } from 'd3-selection'
import { zoom, zoomIdentity, type ZoomTransform } from 'd3-zoom'
import type { Bounds, Point } from './geometry'

/** Pixels a metre at which a plan is still of use: a vehicle's door to a street. */
const PIXELS_PER_METRE: [number, number] = [0.5, 1000]
/** A finger that moves less than this has tapped. Pixels. */
const TAP = 8

export class View {
  width = $state(0)
  height = $state(0)
  #at = $state.raw<ZoomTransform>(zoomIdentity)
  #svg: SVGSVGElement | null = null
  #zoom = zoom<SVGSVGElement, unknown>()
    .scaleExtent(PIXELS_PER_METRE)
    .clickDistance(TAP)
    .tapDistance(TAP)
    .filter((event: MouseEvent) => {
      const held = event.target instanceof Element && event.target.closest('[data-drag]')
      return !held && !event.button && (!event.ctrlKey || event.type === 'wheel')
    })
    .on('zoom', (event: { transform: ZoomTransform }) => (this.#at = event.transform))

  /** Pixels a metre. */
  get k(): number {
    return this.#at.k
  }
  x = (x: number): number => this.#at.x + this.#at.k * x
  y = (y: number): number => this.#at.y - this.#at.k * y
  /** The point of the plan under a pixel of the drawing. */
  at = ([x, y]: Point): Point => [(x - this.#at.x) / this.#at.k, (this.#at.y - y) / this.#at.k]

  /** The same under a pointer. */
  under(event: MouseEvent): Point {
    const box = this.#svg?.getBoundingClientRect()
    return this.at([event.clientX - (box?.left ?? 0), event.clientY - (box?.top ?? 0)])
  }

  /** Lets an element be panned and zoomed; ends with what it returns. */
  hold(svg: SVGSVGElement): () => void {
    this.#svg = svg
    const held = select(svg)
    // A double tap chooses twice; it does not zoom.
    held.call(this.#zoom).on('dblclick.zoom', null)
    const size = new ResizeObserver(() => {
      const [before, width] = [this.width, svg.clientWidth]
      ;[this.width, this.height] = [width, svg.clientHeight]
      if (before === 0 && width > 0) this.#wanted?.()
    })
    size.observe(svg)
    return () => {
      size.disconnect()
      held.on('.zoom', null)
      this.#svg = null
    }
  }

  #wanted: (() => void) | null = null

  /** Shows all of these bounds, with room about them. */
  fit(to: Bounds | null): void {
    const { west, south, east, north } = to ?? { west: 0, south: 0, east: 20, north: 14 }
    this.#wanted = () => {
      if (!this.#svg || !this.width) return
      const margin = 44
      const [wide, high] = [Math.max(east - west, 2), Math.max(north - south, 2)]
      const k = Math.min((this.width - 2 * margin) / wide, (this.height - 2 * margin) / high)
      const held = Math.min(PIXELS_PER_METRE[1], Math.max(PIXELS_PER_METRE[0], k))
      const x = this.width / 2 - (held * (west + east)) / 2
      const y = this.height / 2 + (held * (south + north)) / 2
      this.#zoom.transform(select(this.#svg), zoomIdentity.translate(x, y).scale(held))
    }
    this.#wanted()
  }

  by(factor: number): void {
    if (this.#svg) this.#zoom.scaleBy(select(this.#svg), factor)
  }

  /** Moves the plan under the middle of the drawing by so many pixels. */
  pan(right: number, down: number): void {
    if (this.#svg) this.#zoom.translateBy(select(this.#svg), -right / this.k, -down / this.k)
  }

  get middle(): Point {
    return this.at([this.width / 2, this.height / 2])
  }
}
