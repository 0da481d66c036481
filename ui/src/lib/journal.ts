// The journal as the server keeps it.
import { api, got, type Schemas } from '../api/client'
import type { Work } from './work.svelte'

export type Entry = Schemas['Entry']

const AT_ONCE = 1000

/** The entries after a number, oldest first. Throws `Refused`. */
export async function entriesAfter(work: Work, after: number): Promise<Entry[]> {
  const all: Entry[] = []
  for (;;) {
    const query = { after: all.at(-1)?.seq ?? after }
    const more = await got(api.GET('/api/surveys/{survey}/journal', { params: { path: work.path, query } }))
    all.push(...more)
    if (more.length < AT_ONCE) return all
  }
}
