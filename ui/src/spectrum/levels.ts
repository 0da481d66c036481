// Which zoom levels and tiles a view needs: never a cell smaller than a pixel of the screen, so that no
// lit cell is lost in drawing, and never a tile that is not on it.
import type { Schemas } from '../api/client'
import { receivedIn, STRAIGHT, type Axis } from './axis'
import { spanOf, type View } from './view'

export type Spectrum = Schemas['Spectrum']
export type Level = { f: number; t: number }
export type Place = Level & { column: number; row: number }
/** Where a tile lies, in hertz and seconds. */
export type Box = { lowHz: number; highHz: number; fromS: number; untilS: number }

/** Length of a row at a time level. */
export const rowS = (of: Spectrum, t: number) => of.row_s * 2 ** t

/** From one visit to the next of a receiver that steps from band to band: rows that are shorter show
 * gaps. 0 for one that stays. */
export function visitS(of: Spectrum): number {
  const starts = new Map<number, number[]>()
  let on = 0
  for (const one of of.segments) {
    starts.set(one.low_hz, [...(starts.get(one.low_hz) ?? []), one.start_s])
    on += one.duration_s
  }
  const gaps = [...starts.values()].flatMap((list) => list.slice(1).map((s, i) => s - (list[i] ?? s))).sort((a, b) => a - b)
  const usual = gaps[gaps.length >> 1] ?? 0
  return usual > (1.5 * on) / Math.max(of.segments.length, 1) ? usual : 0
}

/** The finest level whose cells and rows are at least a pixel, and whose rows are no shorter than from
 * visit to visit while many visits are in view. */
export function levelFor(of: Spectrum, view: View, width: number, height: number, visit = 0, axis: Axis = STRAIGHT): Level | null {
  const hz = spanOf(view, axis) / Math.max(width, 1)
  const span = view.untilS - view.fromS
  const s = Math.max(span / Math.max(height, 1), span > 6 * visit ? visit : 0)
  let best: { level: Level; cost: number } | null = null
  for (const one of of.levels) {
    for (const t of one.time_levels) {
      // How many times coarser than asked for; under 1 it would be finer, which loses cells.
      const coarseF = one.cell_hz / hz
      const coarseT = rowS(of, t) / s
      if (coarseF < 1 || coarseT < 1) continue
      const cost = Math.log2(coarseF) + Math.log2(coarseT)
      if (!best || cost < best.cost - 1e-9) best = { level: { f: one.frequency_level, t }, cost }
    }
  }
  if (!best && visit > 0) return levelFor(of, view, width, height, 0, axis)
  return best?.level ?? coarsest(of)
}

/** Tiles, one under the other, in which the coarsest level shows all. */
export const COARSEST_TILES = 4

/** The level that shows all in so many tiles, or in as few as there can be. */
export function coarsest(of: Spectrum): Level | null {
  const last = of.levels.at(-1)
  const t = last?.time_levels.find((one) => of.duration_s <= COARSEST_TILES * of.tile_rows * rowS(of, one)) ?? last?.time_levels.at(-1)
  return last && t !== undefined ? { f: last.frequency_level, t } : null
}

export function boxOf(of: Spectrum, place: Place): Box {
  const level = of.levels.find((one) => one.frequency_level === place.f)
  const cell = level?.cell_hz ?? 1
  const row = rowS(of, place.t)
  const lowHz = (level?.low_hz ?? 0) + place.column * of.tile_cells * cell
  const fromS = place.row * of.tile_rows * row
  return { lowHz, highHz: lowHz + of.tile_cells * cell, fromS, untilS: fromS + of.tile_rows * row }
}

/** The tiles of a level that are in view and not all gap, those nearest its middle first. */
export function tilesIn(of: Spectrum, view: View, level: Level, axis: Axis = STRAIGHT): Place[] {
  const own = of.levels.find((one) => one.frequency_level === level.f)
  if (!own) return []
  const across = of.tile_cells * own.cell_hz
  const down = of.tile_rows * rowS(of, level.t)
  const end = (from: number, low: number, high: number, by: number) =>
    Math.max(from, Math.ceil((Math.min(high, low) - 1e-9 * by) / by) - 1)
  const columns = new Set<number>()
  for (const { lowHz, highHz } of receivedIn(axis, view.lowHz, view.highHz)) {
    const first = Math.max(0, Math.floor((Math.max(lowHz, of.low_hz) - own.low_hz) / across))
    const last = end(first, of.high_hz - of.low_hz, highHz - own.low_hz, across)
    for (let column = first; column <= last; column++) columns.add(column)
  }
  const top = Math.max(0, Math.floor(Math.max(view.fromS, 0) / down))
  const bottom = end(top, of.duration_s, view.untilS, down)
  const places: Place[] = []
  for (let row = top; row <= bottom; row++) {
    for (const column of columns) places.push({ ...level, column, row })
  }
  const midX = (Math.min(...columns) + Math.max(...columns)) / 2
  const midY = (top + bottom) / 2
  const off = (p: Place) => Math.hypot(p.column - midX, p.row - midY)
  return places.sort((a, b) => off(a) - off(b))
}

export const keyOf = (p: Place) => `${p.f}/${p.t}/${p.column}/${p.row}`

/** Noise bandwidth of the spectra that a level is made of; null where nobody states it. */
export function noiseHz(of: Spectrum, level: Level): number | null {
  const own = of.levels.find((one) => one.frequency_level === level.f)
  if (!own) return null
  return (level.f >= 0 && level.t >= 0 ? own.noise_bandwidth_hz : own.fine_noise_bandwidth_hz) ?? null
}

/** By how much noise reads lower at a level than in the overview, dB: colours follow it. */
export function noiseShift(of: Spectrum, level: Level): number {
  const base = of.levels.find((one) => one.frequency_level === 0)?.noise_bandwidth_hz
  const own = noiseHz(of, level)
  return base && own ? 10 * Math.log10(own / base) : 0
}
