// Bands as people write them: `863–870 MHz, 2.4–2.5 GHz`.
import type { Schemas } from '../api/client'
import { hertz } from './words'

export type Band = Schemas['Band']

export function bandText(band: Band): string {
  const low = hertz(band.low_hz, 7)
  const high = hertz(band.high_hz, 7)
  const [value, unit] = low.split(' ')
  return high.endsWith(` ${unit}`) ? `${value}–${high}` : `${low}–${high}`
}

export function bandsText(bands: readonly Band[]): string {
  return bands.map(bandText).join(', ')
}

/** The bands of a text; null if a part of it is none. A lower edge without a unit has the upper's. */
export function parseBands(text: string): Band[] | null {
  const bands: Band[] = []
  for (const part of text.split(/[;,]\s+|;|,(?=\S*[-–])/).map((one) => one.trim()).filter(Boolean)) {
    const found = /^([\d.,]+)\s*([a-z]*)\s*[-–]\s*([\d.,]+)\s*([a-z]+)$/i.exec(part)
    const low = found && edge(found[1], found[2] || found[4])
    const high = found && edge(found[3], found[4])
    if (!low || !high || low >= high) return null
    bands.push({ low_hz: low, high_hz: high })
  }
  return bands
}

function edge(number: string | undefined, unit: string | undefined): number | null {
  const scale = { hz: 1, khz: 1e3, mhz: 1e6, ghz: 1e9 }[(unit ?? '').toLowerCase()]
  const value = Number((number ?? '').replace(',', '.'))
  return scale && Number.isFinite(value) ? Math.round(value * scale) : null
}
