// The life of a found item: what was done with it, step by step.
import { api, fetched, got, Refused, type Schemas } from '../api/client'
import { who, type Work } from '../lib/work.svelte'

export type Item = Schemas['FoundItem']
export type Custody = Schemas['Custody']

/** Steps that are taken often; `to` is asked for where it matters. */
export const STEPS: { does: string; note: string; asksTo: boolean }[] = [
  { does: 'Left and watched', note: 'left in place and watched', asksTo: false },
  { does: 'Sealed', note: 'sealed: ', asksTo: false },
  { does: 'Handed over', note: 'handed over', asksTo: true },
]

/** The last that is known of it, in words. */
export function life(item: Item): string {
  const last = item.custody.at(-1)
  if (!last) return item.place ? `located at ${item.place}` : 'place not said'
  if (last.to) return `with ${last.to}`
  return last.note ?? 'in custody'
}

/** Says one item of the record anew; the others stay as they are. */
export async function sayItem(work: Work, item: Item): Promise<void> {
  const items = work.record?.found_items ?? []
  await work.say({ found_items: items.map((one) => (one.id === item.id ? item : one)) })
}

/** Sends photographs, to be kept unchanged as evidence files of an item; ends when they are stored. */
export async function photographs(work: Work, id: string, files: FileList | File[], told: (what: string) => void): Promise<void> {
  const { upload } = await got(api.POST('/api/surveys/{survey}/uploads', { params: { path: work.path } }))
  const base = `/api/surveys/${encodeURIComponent(work.name)}/uploads/${encodeURIComponent(upload)}`
  for (const file of files) {
    told(`sending ${file.name}`)
    await fetched(`${base}/${encodeURIComponent(file.name)}`, { method: 'PUT', headers: { 'content-type': 'application/octet-stream' }, body: file })
  }
  told('storing')
  const job = await got(api.POST('/api/surveys/{survey}/found-items/{id}/photographs', {
    params: { path: { survey: work.name, id }, query: { by: who.name } }, body: { upload },
  }))
  await ended(work, job.id)
  await work.refresh()
}

async function ended(work: Work, id: string): Promise<void> {
  for (;;) {
    const job = await got(api.GET('/api/surveys/{survey}/jobs/{id}', { params: { path: { survey: work.name, id } } }))
    if (job.problem) throw new Refused(job.problem)
    if (job.state !== 'running') return
    await new Promise((later) => setTimeout(later, 300))
  }
}
