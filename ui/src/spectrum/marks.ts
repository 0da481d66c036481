// Emissions of the ledger as a recording shows them.
import type { Row } from '../api/client'
import { state } from '../lib/words'

export type Mark = { id: string; label: string; low_hz: number; high_hz: number; centre_hz: number; open: boolean; words: string }

/** The rows that a capture heard, by frequency. The label says what is not settled: no
 * colour alone does. */
export function marksOf(rows: readonly Row[], capture: string): Mark[] {
  return rows
    .filter((row) => row.receptions.some((one) => one.capture === capture && one.heard))
    .map((row) => {
      const told = row.decision.state
      const open = told === 'open' || told === 'suspect' || told === 'located'
      return {
        id: row.id, label: open ? `${row.id} ${state(told)}` : row.id, words: state(told), open,
        low_hz: row.low_hz, high_hz: row.high_hz, centre_hz: row.centre_hz,
      }
    })
    .sort((a, b) => a.centre_hz - b.centre_hz)
}

/** The mark under a frequency: the narrowest band that holds it, else the nearest within reach. */
export function markAt(marks: readonly Mark[], hz: number, reachHz: number): Mark | null {
  const off = (m: Mark) => Math.max(m.low_hz - hz, hz - m.high_hz, 0)
  const near = marks.filter((m) => off(m) <= reachHz)
  near.sort((a, b) => off(a) - off(b) || a.high_hz - a.low_hz - (b.high_hz - b.low_hz))
  return near[0] ?? null
}
