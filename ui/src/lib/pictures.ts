// Pictures among the evidence: photographs, images of plans.
import { api, fetched, got, Refused, type Job, type Schemas } from '../api/client'
import { here } from './route.svelte'
import { isRaster, isWhole } from './whole'
import { who, type Work } from './work.svelte'

export const pictureOf = (survey: string, sha256: string): string =>
  `/api/surveys/${encodeURIComponent(survey)}/evidence/${sha256}`

/** Brings the image of a floor's plan in; ends when the survey has it. */
export async function planImage(work: Work, floor: string, file: File): Promise<void> {
  const bytes = new Uint8Array(await file.arrayBuffer())
  if (!isWhole(bytes)) {
    throw new Refused({
      title: 'Not whole', detail: `${file.name} ends in the middle of its picture`,
      remedy: 'Copy it once more from where it came, or save it anew; nothing of it was kept.',
    })
  }
  // What no browser can draw is no plan; it is told before anything is kept.
  const drawn = isRaster(bytes) ? await createImageBitmap(file).catch(() => null) : undefined
  drawn?.close()
  if (drawn === null) {
    throw new Refused({
      title: 'Cannot be drawn', detail: `${file.name} cannot be drawn: it is damaged, or has more pixels than a browser can show`,
      remedy: 'Save it anew as PNG or JPEG, of at most some thousand pixels a side; nothing of it was kept.',
    })
  }
  await keep(work, [file], (upload) =>
    api.POST('/api/surveys/{survey}/floors/{id}/image', {
      params: { path: { survey: work.name, id: floor }, query: by() }, body: { upload },
    }),
  )
}

/** What a photograph is of: a position or a room by name, a found item by id. */
export type PhotographOf = { position: string } | { room: string } | { item: string }

/** Brings photographs in, kept unchanged as evidence. */
export const photographs = (work: Work, files: readonly File[], of: PhotographOf, taken_at: string | null): Promise<void> =>
  keep(work, files, (upload) =>
    'item' in of
      ? api.POST('/api/surveys/{survey}/found-items/{id}/photographs', {
          params: { path: { survey: work.name, id: of.item }, query: by() }, body: { upload },
        })
      : api.POST('/api/surveys/{survey}/photographs', { params: { path: work.path, query: by() }, body: { upload, ...of, taken_at } }),
  )

const by = () => (who.name ? { by: who.name } : {})

async function keep(work: Work, files: readonly File[], start: (upload: string) => Parameters<typeof got<Job>>[0]): Promise<void> {
  const { upload } = await got(api.POST('/api/surveys/{survey}/uploads', { params: { path: work.path } }))
  const to = `/api/surveys/${encodeURIComponent(work.name)}/uploads/${upload}`
  const headers = { 'content-type': 'application/octet-stream' }
  try {
    for (const file of files) await fetched(`${to}/${encodeURIComponent(file.name)}`, { method: 'PUT', body: file, headers })
    await ended(work, await got(start(upload)))
  } catch (error) {
    // Nothing half stays: what was refused is no recording that waits to be brought in.
    await fetched(to, { method: 'DELETE' }).catch((gone: unknown) => { if (!(gone instanceof Refused)) throw gone })
    throw error
  }
  await work.reread()
}

/** Waits for a job's end; throws what it ended with. */
async function ended(work: Work, job: Job): Promise<void> {
  // Told where it was begun.
  work.tells(job.id, here.route.page)
  let now = job
  while (now.state === 'running') {
    await new Promise((resolve) => setTimeout(resolve, 200))
    now = await got(api.GET('/api/surveys/{survey}/jobs/{id}', { params: { path: { survey: work.name, id: job.id } } }))
  }
  if (now.problem) throw new Refused(now.problem)
}
