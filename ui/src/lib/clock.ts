// Times in the survey's own time zone, whatever the browser's is.

/** `27 Nov 03:12:45`; with the year where it is asked for. */
export function moment(time: string | null | undefined, zone: string, year = false): string {
  if (!time) return '–'
  const date = new Date(time)
  if (Number.isNaN(date.getTime())) return time
  return new Intl.DateTimeFormat('en-GB', {
    timeZone: known(zone), day: 'numeric', month: 'short', ...(year ? { year: 'numeric' } : {}),
    hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23',
  }).format(date).replace(',', '')
}

/** `03:12:45`. */
export function clock(time: string | number | Date, zone: string): string {
  return new Intl.DateTimeFormat('en-GB', {
    timeZone: known(zone), hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23',
  }).format(new Date(time))
}

function known(zone: string): string {
  try {
    new Intl.DateTimeFormat('en', { timeZone: zone })
    return zone
  } catch {
    return 'UTC'
  }
}

/** What a date-and-time field shows of a time: the survey's clock, without an offset. */
export function typed(time: string | null | undefined, zone: string): string {
  if (!time) return ''
  const parts = new Intl.DateTimeFormat('sv-SE', {
    timeZone: known(zone), dateStyle: 'short', timeStyle: 'medium',
  }).format(new Date(time))
  return parts.replace(' ', 'T')
}

const WALL = /^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d(?::\d\d(?:\.\d+)?)?)\s*(Z|[+-]\d\d:\d\d)?$/

/** What a person means by a date and time of the survey's clock: a time in UTC, or why there is none. Where
 * the clocks were put back over it there are two; each is told with the offset that means it alone. */
export type Meant =
  | { is: 'time'; at: string } | { is: 'none' } | { is: 'skipped' }
  | { is: 'twice'; first: string; second: string }

export function meant(text: string, zone: string): Meant {
  const found = WALL.exec(text.trim().replace('−', '-'))
  const [, day, time, offset] = found ?? []
  if (!found || Number.isNaN(Date.parse(`${day}T${time}Z`))) return { is: 'none' }
  if (offset) {
    const at = Date.parse(`${day}T${time}${offset}`)
    return Number.isNaN(at) ? { is: 'none' } : { is: 'time', at: new Date(at).toISOString() }
  }
  const wall = Date.parse(`${day}T${time}Z`)
  // An offset is at most 14 h; before and after tell the two that a change of clock has.
  const tried = [...new Set([wall - offsetAt(wall - 864e5, zone), wall - offsetAt(wall + 864e5, zone)])].sort((a, b) => a - b)
  const [first, second] = tried.filter((at) => at + offsetAt(at, zone) === wall)
  if (first === undefined) return { is: 'skipped' }
  if (second === undefined) return { is: 'time', at: new Date(first).toISOString() }
  const with_ = (at: number) => `${day} ${time} ${offsetText(wall - at)}`
  return { is: 'twice', first: with_(first), second: with_(second) }
}

/** The time in UTC that a text of the survey's clock means; null if it is none, or not one alone. */
export function stamped(text: string, zone: string): string | null {
  const time = meant(text, zone)
  return time.is === 'time' ? time.at : null
}

/** What is wrong with a text as a date and time, in words; empty for one that is right. */
export function faultOf(text: string, zone: string): string {
  const time = meant(text, zone)
  switch (time.is) {
    case 'time': return ''
    case 'none': return 'Write it as 2026-03-05 16:00.'
    case 'skipped': return `That did not happen in ${zone}: the clocks were put forward over it. Look again which time it was.`
    case 'twice': return `That happened twice in ${zone}: the clocks were put back. Say which of the two.`
  }
}

/** A time as its field shows it: with its offset where the survey's clock alone does not tell it. */
export function written(time: string | null | undefined, zone: string): string {
  const text = typed(time, zone).replace('T', ' ')
  if (!time || meant(text, zone).is !== 'twice') return text
  const at = Math.floor(Date.parse(time) / 1000) * 1000
  return `${text} ${offsetText(offsetAt(at, zone))}`
}

/** What the survey's clock is ahead of UTC at a whole second, milliseconds. */
const offsetAt = (at: number, zone: string) => Date.parse(`${typed(new Date(at).toISOString(), zone)}Z`) - Math.floor(at / 1000) * 1000

function offsetText(ms: number): string {
  const minutes = Math.abs(Math.round(ms / 60e3))
  const two = (n: number) => String(n).padStart(2, '0')
  return `${ms < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`
}
