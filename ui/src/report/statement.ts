// What the technician concludes, and the files that the report is made into.
import type { Field } from '../lib/fields'
import type { Parts } from '../lib/draft.svelte'
import type { Work } from '../lib/work.svelte'

export type Opinion = { of: string; text: string | null; advice: string | null }
export type Statement = {
  id: string; summary: string | null; advice: string | null; opinions: Opinion[]; author: string | null; qualification: string | null
}
export type Made = { made: string; journal_head: string; stale: boolean; verified: boolean; files: { file: string; media_type: string; bytes: number }[] }

export const NONE: Statement = { id: 'statement', summary: null, advice: null, opinions: [], author: null, qualification: null }

export const SUMMARY: Field[] = [
  { key: 'summary', label: 'Summary: the answer in plain words', kind: 'long', needed: true },
  { key: 'advice', label: 'Advice: what the client should do', kind: 'long' },
  { key: 'author', label: 'Who answers for the report', needed: true },
  { key: 'qualification', label: 'By what training, licence or practice', needed: true },
]

export const OPINION: Field[] = [
  { key: 'text', label: 'What it is and why it matters', kind: 'long' },
  { key: 'advice', label: 'What should be done about it', kind: 'long' },
]

export function statementOf(work: Work): Statement | null {
  return (work.record as { statement?: Statement | null } | null)?.statement ?? null
}
export const withStatement = (statement: Statement | null) => ({ statement }) as Parts

/** What the report tells as findings: what stands suspect, located or handed over, and what was found. */
export function findings(work: Work): { id: string; title: string }[] {
  const rows = (work.ledger?.emissions ?? []).filter((row) => ['suspect', 'located', 'handed-over'].includes(row.decision.state))
  return [
    ...rows.map((row) => ({ id: row.id, title: row.decision.state.replace('-', ' ') })),
    ...(work.record?.found_items ?? []).map((item) => ({ id: item.id, title: item.what })),
  ]
}

/** The files of a report, in words. */
export const FILES: Record<string, string> = {
  'report.pdf': 'Report, to hand over (PDF)', 'report.html': 'Report, one file for a browser (HTML)',
  'interim.pdf': 'Interim page for the same night (PDF)', 'interim.html': 'Interim page (HTML)', 'hours.csv': 'Hours worked (CSV)',
}
