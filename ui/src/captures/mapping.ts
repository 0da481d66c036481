// What the columns of a table mean, as the command line and the survey write it: KEY=COLUMN[:UNIT],…
// with strength=COLUMN/STEPS; double quotes keep a comma, and in a name a colon or slash.

export type Entry = { key: string; column: string; after: string }

/** Keys that a column can have, with the words for them and what may follow. */
export const MEANINGS: { key: string; word: string; after?: 'format' | 'steps' | readonly string[] }[] = [
  { key: 'time', word: 'time', after: 'format' },
  { key: 'date', word: 'date', after: 'format' },
  { key: 'frequency', word: 'frequency', after: ['Hz', 'kHz', 'MHz', 'GHz'] },
  { key: 'band', word: 'band in words' },
  { key: 'strength', word: 'strength in steps', after: 'steps' },
  { key: 'level', word: 'level', after: ['dBm', 'dBFS', 'dBuV'] },
  { key: 'duration', word: 'duration', after: ['s', 'min'] },
  { key: 'position', word: 'position' },
  { key: 'setting', word: 'setting' },
  { key: 'bearing', word: 'bearing, degrees' },
  { key: 'heard', word: 'what was heard' },
  { key: 'note', word: 'note' },
]

/** Text cut at a sign, but not inside double quotes. */
function cut(text: string, at: string): string[] {
  const parts = ['']
  let quoted = false
  for (const sign of text) {
    if (sign === '"') quoted = !quoted
    if (sign === at && !quoted) parts.push('')
    else parts[parts.length - 1] += sign
  }
  return parts
}

function bare(text: string): string {
  const kept = text.trim()
  return kept.length > 1 && kept.startsWith('"') && kept.endsWith('"') ? kept.slice(1, -1).replaceAll('""', '"') : kept
}

/** A quoted number is a name: it keeps its quotes. */
const columnOf = (text: string) => (/^"\d+"$/.test(text.trim()) ? text.trim() : bare(text))

export function parse(text: string): Entry[] {
  return cut(text, ',').filter((part) => part.trim()).map((part) => {
    const equals = part.indexOf('=')
    const key = part.slice(0, equals).trim()
    const rest = part.slice(equals + 1)
    if (key === 'shape') return { key, column: '', after: rest.trim() }
    const parts = cut(rest, key === 'strength' ? '/' : ':')
    if (parts.length === 1) return { key, column: columnOf(rest), after: '' }
    const [column, after] = key === 'strength'
      ? [parts.slice(0, -1).join('/'), parts.at(-1) ?? '']
      : [parts[0] ?? '', parts.slice(1).join(':')]
    return { key, column: columnOf(column), after: bare(after) }
  })
}

export function write(entries: readonly Entry[]): string {
  return entries.map(({ key, column, after }) => {
    if (key === 'shape') return `shape=${after}`
    const name = /^"\d+"$/.test(column) || !/[",:/]/.test(column) ? column : quoted(column)
    if (!after) return `${key}=${name}`
    return `${key}=${name}${key === 'strength' ? '/' : ':'}${/[",]/.test(after) ? quoted(after) : after}`
  }).join(',')
}

const quoted = (text: string) => `"${text.replaceAll('"', '""')}"`

/** Which of the first rows is the header: the first that has all names used; -1 if there is none. */
export function headerRow(rows: readonly string[][], entries: readonly Entry[]): number {
  const names = entries.map((entry) => entry.column).filter((column) => column && !/^\d+$/.test(column)).map((n) => n.replace(/^"(\d+)"$/, '$1').toLowerCase())
  if (names.length) return rows.findIndex((row) => names.every((name) => row.some((cell) => cell.trim().toLowerCase() === name)))
  const widest = Math.max(0, ...rows.map((row) => row.length))
  const first = rows.findIndex((row) => row.length === widest)
  return rows[first]?.some((cell) => /^[+-]?\d/.test(cell.trim())) ? -1 : first
}

/** The place, from 0, of an entry's column; -1 if the table has none of that name. */
export function place(entry: Entry, header: readonly string[]): number {
  if (/^\d+$/.test(entry.column)) return Number(entry.column) - 1
  const name = entry.column.replace(/^"(\d+)"$/, '$1')
  const exact = header.findIndex((cell) => cell.trim() === name)
  return exact >= 0 ? exact : header.findIndex((cell) => cell.trim().toLowerCase() === name.toLowerCase())
}

/** How a column is named in a mapping: by its header where that is its own, else by number. */
export function named(index: number, header: readonly string[]): string {
  const name = header[index]?.trim() ?? ''
  const own = header.filter((cell) => cell.trim().toLowerCase() === name.toLowerCase()).length === 1
  if (!name || !own) return String(index + 1)
  return /^\d+$/.test(name) ? `"${name}"` : name
}
