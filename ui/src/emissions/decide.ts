// Writes about rows of the ledger.
import { api, fetched, got, type Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { who } from '../lib/work.svelte'
import type { Verdict } from './rule'

/** Decides rows, all or none, as the ledger of that version was seen; throws `Refused`. */
export async function decide(work: Work, ids: string[], verdict: Verdict, version: number): Promise<void> {
  await fetched(`/api/surveys/${encodeURIComponent(work.name)}/decisions?${work.by()}`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', 'if-match': `"${version}"` },
    body: JSON.stringify({ ids, ...verdict }),
  })
  await work.refresh()
}

const params = (work: Work) => ({ params: { path: work.path, query: { by: who.name } } })
/** The same, as the ledger is seen. */
const seen = (work: Work) => ({
  params: { path: work.path, query: { by: who.name }, header: { 'if-match': `"${work.ledger?.version ?? 0}"` } },
})

export async function join(work: Work, ids: string[]): Promise<void> {
  await got(api.POST('/api/surveys/{survey}/joins', { ...seen(work), body: { ids } }))
  await work.refresh()
}

/** Takes the receptions of captures out of a row; gives the id of the row that they make. */
export async function split(work: Work, id: string, captures: string[]): Promise<string | null> {
  const written = await got(api.POST('/api/surveys/{survey}/splits', { ...seen(work), body: { id, captures } }))
  await work.refresh()
  return written.rows.find((row) => row.id !== id)?.id ?? null
}

export async function undoable(work: Work): Promise<Schemas['Undoable'][]> {
  return got(api.GET('/api/surveys/{survey}/undo', { params: { path: work.path } }))
}

export async function undo(work: Work, entry: number): Promise<void> {
  await got(api.POST('/api/surveys/{survey}/undo', { ...params(work), body: { entry } }))
  await work.refresh()
}
