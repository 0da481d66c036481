// What a person types of a reading, as the survey takes it.
import type { Schemas } from '../api/client'
import { parseBands } from '../lib/bands'
import { parseHertz } from '../lib/words'

export type Of = { band: Schemas['Band'] } | { emission: string }
export type Strength = { strength: Schemas['Strength'] } | { level_dbm: number }

/** `433.92 MHz`, `380-470 MHz`, `380 to 470 MHz`, or a row, `E7`; null if it is none. */
export function parseOf(text: string): Of | null {
  const row = /^\s*e(\d+)\s*$/i.exec(text)
  if (row) return { emission: `E${row[1]}` }
  const one = parseHertz(text)
  if (one !== null) return one > 0 ? { band: { low_hz: one, high_hz: one } } : null
  const bands = parseBands(text.trim().replace(/\s+to\s+/i, '-'))
  return bands?.length === 1 && bands[0] ? { band: bands[0] } : null
}

/** `7/12`, `7 of 12`, `7` on a scale of so many steps, or `-61 dBm`; null if it is none. */
export function parseStrength(text: string, steps: number | null): Strength | null {
  const level = /^\s*([+\-−]?\d+(?:[.,]\d+)?)\s*dbm\s*$/i.exec(text)
  if (level?.[1]) return { level_dbm: number(level[1]) }
  const read = /^\s*(\d+(?:[.,]\d+)?)\s*(?:(?:\/|of)\s*(\d+(?:[.,]\d+)?))?\s*$/i.exec(text)
  if (!read?.[1]) return null
  const value = number(read[1])
  const of = read[2] ? number(read[2]) : steps
  return of !== null && of > 0 && value <= of ? { strength: { value, of } } : null
}

const number = (text: string): number => Number(text.replace(',', '.').replace('−', '-'))
