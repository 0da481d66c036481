// All recordings on their way into a survey. They go on while another page of it is shown; what came
// whole stays with the server until it is brought in or discarded, also when this page is read anew.
import { api, fetched, got, Refused, type Job, type Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { Parcel, stem } from './parcel.svelte'

/** Uploads held at once; the server takes sixteen, and another tab may want some. */
const HELD = 12

export class Parcels {
  all = $state<Parcel[]>([])
  #pumping = false
  #taken: Promise<void> | null = null

  constructor(readonly work: Work) {}

  get sending(): boolean {
    return this.all.some((parcel) => parcel.files.some((file) => file.state === 'goes' || file.state === 'waits'))
  }

  /** Takes up what the server still holds from before. */
  resume(): Promise<void> {
    this.#taken ??= this.#resume()
    return this.#taken
  }
  async #resume(): Promise<void> {
    try {
      const held = await got(api.GET('/api/surveys/{survey}/uploads', { params: { path: this.work.path } }))
      for (const { upload, files } of held) {
        const parcel = new Parcel(this.work, files[0]?.name ?? upload)
        parcel.upload = upload
        parcel.files = files.map(({ name, bytes }) => ({ name, bytes, sent: bytes, state: 'whole', file: null }))
        this.all.push(parcel)
        if (files.length) void parcel.look()
      }
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.#taken = null
    }
  }

  take(files: Iterable<File>): void {
    for (const file of files) {
      const open = this.all.find((one) => one.stem === stem(file.name) && !one.job && !one.files.some((f) => f.name === file.name))
      let parcel = open
      if (!parcel) {
        this.all.push(new Parcel(this.work, file.name))
        parcel = this.all.at(-1)
      }
      parcel?.files.push({ name: file.name, bytes: file.size, sent: 0, state: 'waits', file })
    }
    void this.#pump()
  }

  again(parcel: Parcel): void {
    parcel.problem = null
    for (const file of parcel.files) if (file.state === 'failed' && file.file) file.state = 'waits'
    void this.#pump()
  }

  /** One file after the other: the disk is what is slow. */
  async #pump(): Promise<void> {
    if (this.#pumping) return
    this.#pumping = true
    try {
      for (;;) {
        const held = this.all.filter((parcel) => parcel.upload).length
        const next = this.all.find((one) => one.files.some((file) => file.state === 'waits') && (one.upload || held < HELD))
        const file = next?.files.find((one) => one.state === 'waits')
        if (!next || !file) return
        try {
          if (!next.upload) await next.begin()
        } catch (error) {
          if (!(error instanceof Refused)) throw error
          file.state = 'failed'
          next.problem = error.problem
          continue
        }
        await next.send(file)
        if (next.whole) void next.look()
      }
    } finally {
      this.#pumping = false
    }
  }

  async discard(parcel: Parcel): Promise<void> {
    this.all = this.all.filter((other) => other !== parcel)
    await parcel.discard()
    void this.#pump()
  }

  /** Brings a recording in; from then on the job tells. */
  async bring(parcel: Parcel, said: Omit<Schemas['Import'], 'upload'>): Promise<void> {
    parcel.problem = null
    try {
      const answer = await fetched(`/api/surveys/${encodeURIComponent(this.work.name)}/imports?${this.work.by()}`, {
        method: 'POST', headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ ...said, upload: parcel.upload, overrides: { ...said.overrides, ...parcel.over } }),
      })
      parcel.job = ((await answer.json()) as Job).id
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      parcel.problem = error.problem
    }
  }

  /** Lets those go that the server holds no more: brought in or discarded from elsewhere. */
  async #compare(): Promise<void> {
    const held = await got(api.GET('/api/surveys/{survey}/uploads', { params: { path: this.work.path } }))
    this.all = this.all.filter((one) => !one.upload || held.some(({ upload }) => upload === one.upload))
  }

  /** What jobs tell: a recording that is in is no parcel any more; one that was refused can be said anew. */
  settle(jobs: readonly Job[]): void {
    // Of an import that was begun before this page was read anew nobody here knows the job.
    if (this.all.some((one) => one.upload && !one.job && one.files.every((file) => !file.file))) void this.#compare().catch(() => {})
    for (const parcel of this.all.filter((one) => one.job)) {
      const job = jobs.find((one) => one.id === parcel.job)
      if (!job) continue
      if (job.imported.length && job.state !== 'running') {
        this.all = this.all.filter((other) => other !== parcel)
        void this.#pump()
      } else if (job.state !== 'running') {
        parcel.job = null
        parcel.problem = job.problem ?? { title: 'Cancelled', detail: 'it was cancelled before it was in', remedy: 'Bring it in again, or discard it.' }
      }
    }
  }
}

const kept = new WeakMap<Work, Parcels>()
/** The recordings on their way into a survey that is open. */
export function parcels(work: Work): Parcels {
  const of = kept.get(work) ?? new Parcels(work)
  kept.set(work, of)
  return of
}
