// What is said of a capture, amended as it was seen.
import { api, fetched, gotVersion, type Capture, type Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'

/** A capture as it stands, and the entity tag to amend it by; throws `Refused`. */
export async function standing(work: Work, id: string): Promise<{ capture: Capture; version: string }> {
  const call = api.GET('/api/surveys/{survey}/captures/{id}', { params: { path: { ...work.path, id } } })
  const { data, version } = await gotVersion<Capture>(call)
  return { capture: data, version: version || `"${work.version}"` }
}

/** Says parts of it anew, unless another did so since `version`; throws `Refused`. */
export async function amend(work: Work, id: string, version: string, what: Schemas['Amend']): Promise<void> {
  await fetched(`/api/surveys/${encodeURIComponent(work.name)}/captures/${encodeURIComponent(id)}?${work.by()}`, {
    method: 'PATCH', headers: { 'content-type': 'application/json', 'if-match': version }, body: JSON.stringify(what),
  })
  await work.refresh()
}
