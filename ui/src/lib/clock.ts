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

/** The time that a date-and-time field means by the survey's clock, in UTC; null if it is none. In the
 * hour that a clock change repeats, the first pass. */
export function stamped(local: string, zone: string): string | null {
  const wall = /^\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:\d\d(\.\d+)?)?$/.test(local.trim()) ? Date.parse(`${local.trim().replace(' ', 'T')}Z`) : NaN
  if (Number.isNaN(wall)) return null
  const offset = (at: number) => Date.parse(`${typed(new Date(at).toISOString(), zone)}Z`) - at
  // An offset is at most 14 h; before and after tell the two that a change of clock has.
  const tried = [wall - offset(wall - 864e5), wall - offset(wall + 864e5)].sort((a, b) => a - b)
  const exact = tried.find((at) => at + offset(at) === wall)
  return new Date(exact ?? tried[1] ?? wall).toISOString()
}
