// Taking back, through the server.
import { api, got } from '../api/client'
import { entriesAfter } from '../lib/journal'
import { who, type Work } from '../lib/work.svelte'
import { acts, takingBack, type Act } from './acts'

/** The acts that can be taken back, newest first; throws `Refused`. */
export async function undoable(work: Work): Promise<Act[]> {
  const [entries, journal] = await Promise.all([
    got(api.GET('/api/surveys/{survey}/undo', { params: { path: work.path } })), entriesAfter(work, 0)])
  return acts(entries, takingBack(journal))
}

export async function undo(work: Work, act: Act): Promise<void> {
  for (const { entry } of act.entries) {
    await got(api.POST('/api/surveys/{survey}/undo', { params: { path: work.path, query: { by: who.name } }, body: { entry } }))
  }
  await work.refresh()
}
