import { describe, expect, it } from 'vitest'
import { stamped, typed } from './clock'

describe('the survey’s clock', () => {
  // Clock changes of Europe/London in 2026: 29 March and 25 October, 01:00 UTC (Directive 2000/84/EC, as
  // the IANA time zone database has them).
  it('comes back as it went', () => {
    for (const at of ['2026-03-05T16:00:00.000Z', '2026-07-01T00:30:00.000Z', '2026-10-25T02:30:00.000Z']) {
      expect(stamped(typed(at, 'Europe/London'), 'Europe/London')).toBe(at)
    }
    expect(stamped('2026-07-01T12:00', 'Europe/London')).toBe('2026-07-01T11:00:00.000Z')
    expect(stamped(' 2026-07-01 12:00 ', 'Europe/London')).toBe('2026-07-01T11:00:00.000Z')
    expect(stamped('2026-01-01T00:00:00', 'America/New_York')).toBe('2026-01-01T05:00:00.000Z')
  })
  it('takes the first pass of an hour that comes twice', () => {
    expect(stamped('2026-10-25T01:30', 'Europe/London')).toBe('2026-10-25T00:30:00.000Z')
  })
  it('says when it is none', () => {
    expect(stamped('', 'UTC')).toBeNull()
    expect(stamped('soon', 'UTC')).toBeNull()
    // Which is the month cannot be told.
    expect(stamped('03/05/2026, 16:00', 'UTC')).toBeNull()
    expect(stamped('2026-03-05', 'UTC')).toBeNull()
  })
})
