// Tiles on a plain canvas: each is coloured once into a picture of its own, then drawn to scale.
import { indexed, palette } from './palette'
import { MOST_PICTURES, type Painted, type Painter } from './painter'

type Picture = { canvas: OffscreenCanvas; low: number; high: number }

export function canvasPainter(canvas: HTMLCanvasElement): Painter {
  const context = canvas.getContext('2d', { alpha: false })
  const probe = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true })
  const colours = new Uint32Array(palette().buffer)
  const pictures = new Map<string, Picture>()
  let pixels = new ImageData(1, 1)

  function coloured(tile: Painted): OffscreenCanvas {
    const known = pictures.get(tile.key)
    if (known && known.low === tile.low && known.high === tile.high) {
      pictures.delete(tile.key)
      pictures.set(tile.key, known)
      return known.canvas
    }
    const colour = new Uint32Array(256)
    indexed(tile.low, tile.high).forEach((i, code) => (colour[code] = colours[i] ?? 0))
    colour[0] = 0
    const rows = tile.codes.length / tile.cells
    if (pixels.width !== tile.cells || pixels.height !== rows) pixels = new ImageData(tile.cells, rows)
    const words = new Uint32Array(pixels.data.buffer)
    for (let i = 0; i < words.length; i++) words[i] = colour[tile.codes[i] ?? 0] ?? 0
    const picture = known?.canvas ?? new OffscreenCanvas(tile.cells, rows)
    picture.getContext('2d')?.putImageData(pixels, 0, 0)
    pictures.set(tile.key, { canvas: picture, low: tile.low, high: tile.high })
    if (pictures.size > MOST_PICTURES) pictures.delete(pictures.keys().next().value ?? '')
    return picture
  }

  return {
    kind: 'Canvas',
    paint(tiles, width, height, paper) {
      if (canvas.width !== width) canvas.width = width
      if (canvas.height !== height) canvas.height = height
      if (!context) return
      context.imageSmoothingEnabled = false
      context.fillStyle = paper
      context.fillRect(0, 0, width, height)
      for (const tile of tiles) {
        const [from, to] = tile.part ?? [0, 1]
        const picture = coloured(tile)
        context.drawImage(picture, from * picture.width, 0, (to - from) * picture.width, picture.height, tile.x, tile.y, tile.width, tile.height)
      }
    },
    settle() {
      probe?.drawImage(canvas, 0, 0, 1, 1, 0, 0, 1, 1)
      probe?.getImageData(0, 0, 1, 1)
    },
    close: () => pictures.clear(),
  }
}
