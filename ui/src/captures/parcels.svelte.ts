// All recordings on their way into a survey. They go on while another page of it is shown; what came
// whole stays with the program until it is brought in or discarded, also when this page is read anew or
// the program ends. What did not is sent again or asked for again.
import { api, fetched, got, Refused, type Job, type Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { Arrivals, type Arrival } from './arrivals'
import { isIn, Parcel, stem } from './parcel.svelte'

/** Uploads held at once; the server takes sixteen, and another tab may want some. */
const HELD = 12

export class Parcels {
  all = $state<Parcel[]>([])
  /** What is being said of them; kept while another page is shown. */
  role = $state<Schemas['Role'] | null>(null)
  said = $state<Record<string, unknown>>({ bands: [] })
  /** Files of which nothing is left here or with the program. */
  lost = $state.raw<Arrival[]>([])
  readonly #arrivals: Arrivals
  #pumping = false
  #opened = 0

  constructor(readonly work: Work) {
    this.#arrivals = new Arrivals(work.name)
  }

  get sending(): boolean {
    return this.all.some((parcel) => parcel.files.some((file) => file.state === 'goes' || file.state === 'waits'))
  }

  /** Takes up what the program still holds, each time that it is heard anew. */
  async heard(opened: number): Promise<void> {
    if (opened === this.#opened) return
    this.#opened = opened
    try {
      await this.#compare()
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.#opened = 0
      return
    }
    for (const parcel of this.all) retry(parcel)
    void this.#pump()
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
    this.#remember()
    void this.#pump()
  }

  async again(parcel: Parcel): Promise<void> {
    parcel.problem = null
    // The program may have ended meanwhile, and hold nothing of it.
    await this.#compare().catch(() => {})
    retry(parcel)
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
    this.#remember()
    await parcel.discard()
    void this.#pump()
  }

  /** What is lost is known, and need not be told any more. */
  putAway(): void {
    this.lost = []
    this.#remember()
  }

  /** Brings a recording in; from then on the job tells. */
  async bring(parcel: Parcel, said: Omit<Schemas['Import'], 'upload'>): Promise<void> {
    parcel.problem = null
    parcel.note = ''
    try {
      const answer = await fetched(`/api/surveys/${encodeURIComponent(this.work.name)}/imports?${this.work.by()}`, {
        method: 'POST', headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ ...said, upload: parcel.upload, overrides: { ...said.overrides, ...parcel.over } }),
      })
      parcel.job = ((await answer.json()) as Job).id
      this.work.tells(parcel.job, 'captures')
      this.settle(this.work.jobs)
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      parcel.problem = error.problem
    }
  }

  /** Compares with what the program holds: what it has as captures goes; what it does not have is sent
   * again where its bytes are at hand, else asked for again. */
  async #compare(): Promise<void> {
    const params = { params: { path: this.work.path } }
    // Those that stand now: sending goes on meanwhile.
    const before = this.all.filter((one) => one.upload).map((parcel) => ({ parcel, sent: parcel.sent }))
    const held = await got(api.GET('/api/surveys/{survey}/uploads', params))
    const jobs = await got(api.GET('/api/surveys/{survey}/jobs', params))
    const captures = await got(api.GET('/api/surveys/{survey}/captures', params))
    const kept = captures.flatMap((one) => one.files)
    for (const { parcel, sent } of before) {
      if (parcel.upload !== sent.upload || !this.all.includes(parcel)) continue
      if (jobs.some((job) => job.id === parcel.job)) continue
      if (isIn(sent, held)) {
        if (parcel.job) parcel.askAgain()
        continue
      }
      if (!(parcel.job || parcel.unheld) || !this.#brought(parcel.files, kept)) {
        this.lost = [...this.lost, ...parcel.files.filter((file) => !file.file)]
        if (parcel.lose()) continue
      }
      this.all = this.all.filter((other) => other !== parcel)
    }
    for (const { upload, files } of held) {
      if (!files.length || this.all.some((one) => one.upload === upload)) continue
      const parcel = new Parcel(this.work, files[0]?.name ?? upload)
      parcel.upload = upload
      parcel.files = files.map(({ name, bytes }) => ({ name, bytes, sent: bytes, state: 'whole', file: null }))
      this.all.push(parcel)
      void parcel.look()
    }
    // What was on its way before this page was read anew, and is nowhere now.
    const here = this.all.flatMap((one) => one.files)
    this.lost = [...this.lost, ...this.#arrivals.all].filter((one, i, all) =>
      all.findIndex((other) => other.name === one.name) === i && !this.#brought([one], [...here, ...kept]))
    this.#remember()
  }

  #brought(files: readonly Arrival[], kept: readonly Arrival[]): boolean {
    return files.every((file) => kept.some((one) => one.name === file.name && one.bytes === file.bytes))
  }

  #remember(): void {
    const here = this.all.flatMap((one) => one.files)
    this.lost = this.lost.filter((one) => !here.some((file) => file.name === one.name))
    // What comes next is spoken of anew.
    if (!this.all.length) [this.role, this.said] = [null, { bands: [] }]
    this.#arrivals.all = [...here, ...this.lost].map(({ name, bytes }) => ({ name, bytes }))
  }

  /** What jobs tell: a recording that is in is no parcel any more; one that was refused can be said anew. */
  settle(jobs: readonly Job[]): void {
    // Of an import that was begun before this page was read anew nobody here knows the job.
    if (this.all.some((one) => one.unheld)) void this.#compare().catch(() => {})
    for (const parcel of this.all.filter((one) => one.job)) {
      const job = jobs.find((one) => one.id === parcel.job)
      if (!job || job.state === 'running') continue
      if (job.imported.length) {
        this.all = this.all.filter((other) => other !== parcel)
        this.#remember()
        void this.#pump()
      } else {
        parcel.job = null
        parcel.problem = job.problem ?? { title: 'Cancelled', detail: 'it was cancelled before it was in', remedy: 'Bring it in again, or discard it.' }
      }
    }
  }
}

/** What failed is sent once more. */
function retry(parcel: Parcel): void {
  const failed = parcel.files.filter((file) => file.state === 'failed' && file.file)
  for (const file of failed) file.state = 'waits'
  if (failed.length) parcel.problem = null
}

const kept = new WeakMap<Work, Parcels>()
/** The recordings on their way into a survey that is open. */
export function parcels(work: Work): Parcels {
  const of = kept.get(work) ?? new Parcels(work)
  kept.set(work, of)
  return of
}
