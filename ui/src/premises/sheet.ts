// The walk that was written on paper, typed in: rows of cells, and what the survey is told of each.
import type { Survey } from '../api/client'
import type { Note } from './notes'
import { parseOf, parseStrength } from './typed'

export const COLUMNS = ['position', 'time', 'of', 'strength', 'bearing', 'heard', 'note'] as const
export type Column = (typeof COLUMNS)[number]
export type Cells = Record<Column, string>

export const blank = (): Cells => ({ position: '', time: '', of: '', strength: '', bearing: '', heard: '', note: '' })
export const isBlank = (cells: Cells): boolean => COLUMNS.every((column) => !cells[column].trim())

/** Cells of a spreadsheet as it copies them: tabs and line ends, quotes about cells that hold such. */
export function pasted(text: string): string[][] {
  const rows: string[][] = []
  let [row, cell, quoted] = [[] as string[], '', false]
  const chars = [...text]
  for (const [i, c] of chars.entries()) {
    if (quoted && c === '"') quoted = false
    // A quote doubled inside quotes is one quote.
    else if (c === '"' && chars[i - 1] === '"' && cell !== '') [cell, quoted] = [`${cell}"`, true]
    else if (c === '"' && cell === '') quoted = true
    else if (!quoted && c === '\t') [row, cell] = [[...row, cell], '']
    else if (!quoted && c === '\n') {
      rows.push([...row, cell])
      ;[row, cell] = [[], '']
    } else if (quoted || c !== '\r') cell += c
  }
  if (cell || row.length) rows.push([...row, cell])
  return rows
}

/** The rows with pasted cells put in from one cell on; new rows are made as they are needed. */
export function placed(rows: readonly Cells[], cells: string[][], row: number, column: number): Cells[] {
  const all = [...rows]
  cells.forEach((line, i) => {
    const to = { ...(all[row + i] ?? blank()) }
    line.forEach((cell, j) => {
      const key = COLUMNS[column + j]
      if (key) to[key] = cell.trim()
    })
    all[row + i] = to
  })
  return all
}

/** Hours, minutes, seconds of `21:40`, `21.40`, `2140`, `9:05:30`; with an offset, `01:30 +01:00`, where an
 * hour comes twice. Null if it is no time of day. */
export function timeOfDay(text: string): string | null {
  const found = /^\s*(\d{1,2})(?:[:.h]?(\d{2}))(?:[:.]?(\d{2}))?\s*(Z|[+-]\d{2}:\d{2})?\s*$/.exec(text)
  if (!found) return null
  const [h, m, s] = [Number(found[1]), Number(found[2]), Number(found[3] ?? 0)]
  if (h > 23 || m > 59 || s > 59) return null
  const two = (n: number) => String(n).padStart(2, '0')
  return `${two(h)}:${two(m)}${found[3] === undefined ? '' : `:${two(s)}`}${found[4] ?? ''}`
}

/** Each time with its day: a walk goes on, so that a time more than 12 hours before the one above it is
 * of the next day. Null where there is no time. */
export function dated(day: string, times: readonly string[]): (string | null)[] {
  let today = day
  let before = -1
  return times.map((text) => {
    const time = timeOfDay(text)
    if (time === null) return null
    const minutes = Number(time.slice(0, 2)) * 60 + Number(time.slice(3, 5))
    if (before - minutes > 12 * 60) today = nextDay(today)
    before = minutes
    return `${today}T${time}`
  })
}

function nextDay(day: string): string {
  const at = Date.parse(`${day}T00:00:00Z`)
  return Number.isNaN(at) ? day : new Date(at + 864e5).toISOString().slice(0, 10)
}

/** Whether a row has a remark at most. */
export const saysNoReading = (cells: Cells): boolean => (['of', 'strength', 'bearing', 'heard'] as const).every((column) => !cells[column].trim())

/** Degrees from north of `270`, `270°`, `45.5`; null where there is none, undefined for what is no bearing. */
export function parseBearing(text: string): number | null | undefined {
  if (!text.trim()) return null
  const found = /^\s*(\d{1,3}(?:[.,]\d+)?)\s*(?:°|deg)?\s*$/i.exec(text)
  const degrees = Number(found?.[1]?.replace(',', '.'))
  if (!found || degrees > 360) return undefined
  return degrees === 360 ? 0 : degrees
}

export type Told = { reading: Note | null; remark: Note | null }

/** What the survey is told of a row, or why it cannot be. */
export function told(
  cells: Cells, when: string | null, record: Pick<Survey, 'positions'>, chain: { name: string; scale_steps: number | null } | null,
  makes: boolean,
): Told | string {
  const name = cells.position.trim()
  if (!name) return 'It needs a position.'
  const known = record.positions.find((one) => [one.id, one.name].some((own) => own.toLowerCase() === name.toLowerCase()))
  if (!known && !makes) return `There is no position '${name}' yet.`
  if (when === null) return cells.time.trim() ? `'${cells.time}' is no time of day.` : 'It needs a time.'
  const at = known?.id ?? name
  const remark: Note | null = cells.note.trim() ? { kind: 'remark', at, from: when, text: cells.note.trim() } : null
  if (saysNoReading(cells)) return remark ? { reading: null, remark } : 'It says nothing yet.'
  const of = parseOf(cells.of)
  if (!of) return cells.of.trim() ? `'${cells.of}' is no frequency, band or row.` : 'It needs a band, a frequency or a row.'
  const strength = parseStrength(cells.strength, chain?.scale_steps ?? null)
  if (!strength) return cells.strength.trim() ? `'${cells.strength}' is no strength: 7/12 or -61 dBm.` : 'It needs a strength.'
  const bearing_deg = parseBearing(cells.bearing)
  if (bearing_deg === undefined) return `'${cells.bearing}' is no bearing: degrees from north, 0 to 359.`
  return { reading: { kind: 'reading', at, when, ...of, ...strength, bearing_deg, heard: cells.heard.trim() || null, chain: chain?.name ?? null }, remark }
}
