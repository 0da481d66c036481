// Writes about rows of the ledger, each as the ledger of a version was seen.
import { api, got } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { who } from '../lib/work.svelte'
import type { Verdict } from './rule'

const seen = (work: Work, version: number) =>
  ({ params: { path: work.path, query: { by: who.name }, header: { 'if-match': `"${version}"` } } })

/** Decides rows, all or none; throws `Refused`. */
export async function decide(work: Work, ids: string[], verdict: Verdict, version: number): Promise<void> {
  await got(api.POST('/api/surveys/{survey}/decisions', { ...seen(work, version), body: { ids, ...verdict } }))
  await work.refresh()
}

/** Why rows are one, and whether they are although their measurements speak against it. */
export type Joining = { reason: string; although_apart: boolean }

/** Puts rows together; throws `Refused`. */
export async function join(work: Work, ids: string[], joining: Joining, version: number): Promise<void> {
  await got(api.POST('/api/surveys/{survey}/joins', { ...seen(work, version), body: { ids, ...joining } }))
  await work.refresh()
}

/** Receptions that leave a row, and why. */
export type Parting = { captures: string[]; reason: string }

/** Takes the receptions of captures out of a row; gives the id of the row that they make. */
export async function split(work: Work, id: string, parting: Parting, version: number): Promise<string | null> {
  const written = await got(api.POST('/api/surveys/{survey}/splits', { ...seen(work, version), body: { id, ...parting } }))
  await work.refresh()
  return written.rows.find((row) => row.id !== id)?.id ?? null
}
