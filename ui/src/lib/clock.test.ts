import { describe, expect, it } from 'vitest'
import { faultOf, meant, stamped, typed, written } from './clock'

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
  it('asks which of two, in an hour that comes twice', () => {
    const twice = meant('2026-10-25 01:30', 'Europe/London')
    expect(twice).toEqual({ is: 'twice', first: '2026-10-25 01:30 +01:00', second: '2026-10-25 01:30 +00:00' })
    expect(stamped('2026-10-25 01:30', 'Europe/London')).toBeNull()
    expect(faultOf('2026-10-25 01:30', 'Europe/London')).toContain('twice')
    expect(stamped('2026-10-25 01:30 +01:00', 'Europe/London')).toBe('2026-10-25T00:30:00.000Z')
    expect(stamped('2026-10-25T01:30+00:00', 'Europe/London')).toBe('2026-10-25T01:30:00.000Z')
    // The hours about it come once.
    expect(stamped('2026-10-25 00:59', 'Europe/London')).toBe('2026-10-24T23:59:00.000Z')
    expect(stamped('2026-10-25 02:00', 'Europe/London')).toBe('2026-10-25T02:00:00.000Z')
  })
  it('refuses an hour that the clocks skip', () => {
    expect(meant('2026-03-29 01:30', 'Europe/London')).toEqual({ is: 'skipped' })
    expect(stamped('2026-03-29 01:30', 'Europe/London')).toBeNull()
    expect(faultOf('2026-03-29 01:30', 'Europe/London')).toContain('did not happen')
    expect(stamped('2026-03-29 00:59:59', 'Europe/London')).toBe('2026-03-29T00:59:59.000Z')
    expect(stamped('2026-03-29 02:00', 'Europe/London')).toBe('2026-03-29T01:00:00.000Z')
    // New York, 8 March 2026, 02:00 (Energy Policy Act of 2005, section 110).
    expect(meant('2026-03-08 02:30', 'America/New_York')).toEqual({ is: 'skipped' })
  })
  it('is written with an offset only where it tells which', () => {
    expect(written('2026-10-25T00:30:00Z', 'Europe/London')).toBe('2026-10-25 01:30:00 +01:00')
    expect(written('2026-10-25T01:30:00Z', 'Europe/London')).toBe('2026-10-25 01:30:00 +00:00')
    expect(written('2026-10-25T02:30:00Z', 'Europe/London')).toBe('2026-10-25 02:30:00')
    expect(written(null, 'UTC')).toBe('')
    for (const at of ['2026-10-25T00:30:00.000Z', '2026-10-25T01:30:00.000Z']) expect(stamped(written(at, 'Europe/London'), 'Europe/London')).toBe(at)
  })
  it('says when it is none', () => {
    expect(stamped('', 'UTC')).toBeNull()
    expect(stamped('soon', 'UTC')).toBeNull()
    // Which is the month cannot be told.
    expect(stamped('03/05/2026, 16:00', 'UTC')).toBeNull()
    expect(stamped('2026-03-05', 'UTC')).toBeNull()
  })
})
