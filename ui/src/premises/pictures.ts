// Pictures among the evidence: photographs, images of plans.
import { api, fetched, got, Refused, type Job, type Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'

export type Photograph = {
  id: string
  file: Schemas['FileInfo'] | null
  position: string | null
  room: string | null
  taken_at: string | null
  notes: string | null
}

export const pictureOf = (survey: string, sha256: string): string =>
  `/api/surveys/${encodeURIComponent(survey)}/evidence/${sha256}`

/** Sends pictures and has them kept at an address under the survey; resolves once the survey has them. */
export async function keep(work: Work, files: readonly File[], at: string, said: object = {}): Promise<void> {
  const upload = await got(api.POST('/api/surveys/{survey}/uploads', { params: { path: work.path } }))
  const base = `/api/surveys/${encodeURIComponent(work.name)}`
  for (const file of files) {
    await fetched(`${base}/uploads/${upload.upload}/${encodeURIComponent(file.name)}`, { method: 'PUT', body: file, headers: { 'content-type': 'application/octet-stream' } })
  }
  const answer = await fetched(`${base}/${at}?${work.by()}`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ upload: upload.upload, ...said }),
  })
  await ended(work, (await answer.json()) as Job)
  await work.reread()
}

/** Waits for a job's end; throws what it ended with. */
async function ended(work: Work, job: Job): Promise<void> {
  let now = job
  while (now.state === 'running') {
    await new Promise((resolve) => setTimeout(resolve, 200))
    now = await got(api.GET('/api/surveys/{survey}/jobs/{id}', { params: { path: { survey: work.name, id: job.id } } }))
  }
  if (now.problem) throw new Refused(now.problem)
}
