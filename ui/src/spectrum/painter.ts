// Painting tiles: one way through WebGL2, one through Canvas 2D. Which is faster depends on the machine
// (without a graphics card it is the plain canvas), so both are tried once, on the same few frames.
import { canvasPainter } from './canvas'
import { glPainter } from './gl'

/** A tile to paint: where on the canvas, in its own pixels, and which codes are dark and bright. */
export type Painted = {
  key: string
  codes: Uint8Array
  /** Pixels of one of its rows. */
  cells: number
  x: number
  y: number
  width: number
  height: number
  low: number
  high: number
  /** From and to which fraction of it, along frequency; all of it without. */
  part?: [number, number]
}

export type Painter = {
  kind: 'WebGL' | 'Canvas'
  /** Paints the tiles in this order on a canvas of this size. */
  paint: (tiles: Painted[], width: number, height: number, paper: string) => void
  /** Waits until it is painted; for measuring. */
  settle: () => void
  close: () => void
}

/** Tiles whose pictures a painter keeps. */
export const MOST_PICTURES = 640

let faster: Painter['kind'] | null = null

/** A painter for a canvas that nothing has drawn on: the faster kind, measured once in this tab. */
export function painterFor(canvas: HTMLCanvasElement): Painter {
  faster ??= measured()
  return (faster === 'WebGL' ? glPainter(canvas) : null) ?? canvasPainter(canvas)
}

function measured(): Painter['kind'] {
  const time = (make: (canvas: HTMLCanvasElement) => Painter | null): number => {
    const canvas = document.createElement('canvas')
    const painter = make(canvas)
    if (!painter) return Infinity
    const codes = Array.from({ length: 32 }, (_, n) =>
      Uint8Array.from({ length: 256 * 64 }, (_, i) => (i * 31 + n * 7) & 255),
    )
    const frame = (turn: number) => {
      const tiles = codes.map((codes, n) => ({
        // As in use: most tiles were there before, one is new.
        key: n === 0 ? `new${turn}` : `${n}`, codes, cells: 256, low: 20, high: 200,
        x: (n % 4) * 300 - turn, y: Math.floor(n / 4) * 90, width: 300, height: 90,
      }))
      painter.paint(tiles, 1200, 700, '#fff')
      painter.settle()
    }
    frame(0)
    const began = performance.now()
    for (let turn = 1; turn <= 4; turn++) frame(turn)
    const took = performance.now() - began
    painter.close()
    return took
  }
  return time(glPainter) < time(canvasPainter) ? 'WebGL' : 'Canvas'
}
