// The survey that is open: its record, ledger, captures and jobs, kept true by what the server says
// happens. Pages read from here; what they write goes through `api` and comes back from there.
import { api, fetched, got, Refused, type Capture, type Job, type Ledger, type Problem, type Survey } from '../api/client'
import type { Schemas } from '../api/client'
import type { Page } from './route.svelte'
import { Stream, type Said } from './stream'

/** How long another tab may take to tell what it heard. */
const PATIENCE_MS = 1000

export class Work {
  readonly name: string
  record = $state.raw<Survey | null>(null)
  ledger = $state.raw<Ledger | null>(null)
  warnings = $state.raw<Schemas['Reason'][]>([])
  waiting = $state(0)
  captures = $state.raw<Capture[]>([])
  jobs = $state.raw<Job[]>([])
  /** Number of the journal's last entry, as the server told it last. */
  version = $state(0)
  problem = $state.raw<Problem | Refused['problem'] | null>(null)
  /** Whether the server is heard, and how often it began to be. */
  live = $state(false)
  opened = $state(0)
  /** Jobs whose end is told on the page where they were begun. */
  told = $state.raw<ReadonlyMap<string, Page>>(new Map())

  #stream: Stream | null = null
  #late: ReturnType<typeof setTimeout> | undefined
  #again = false
  #reading: Promise<void> | null = null

  constructor(name: string) {
    this.name = name
  }

  get path(): { survey: string } {
    return { survey: this.name }
  }
  get zone(): string {
    return this.record?.survey.time_zone ?? 'UTC'
  }
  get running(): Job[] {
    return this.jobs.filter((job) => job.state === 'running')
  }

  open(): void {
    this.#stream = new Stream(this.name, (said) => this.#hears(said))
    // The tab that hears may sleep: then this one reads by itself.
    this.#late = setTimeout(() => { if (!this.record) void this.refresh() }, PATIENCE_MS)
  }

  close(): void {
    clearTimeout(this.#late)
    this.#stream?.close()
  }

  #hears(said: Said): void {
    switch (said.kind) {
      case 'open':
        this.live = true
        this.opened += 1
        // A program that was started anew counts its jobs from one again.
        this.told = new Map()
        break
      case 'lost':
        this.live = false
        // A refused stream is not tried again by the browser: say why.
        if (said.refused) void this.refresh()
        break
      case 'version':
        this.version = (JSON.parse(said.data) as { version: number }).version
        void this.refresh()
        break
      case 'jobs': {
        const before = this.running.length
        this.jobs = JSON.parse(said.data) as Job[]
        // What a job derived changes the ledger without an entry of the journal.
        if (this.running.length < before) void this.refresh()
      }
    }
  }

  /** Reads all anew; calls that come meanwhile are answered by one more reading, and wait for it. */
  refresh(): Promise<void> {
    this.#again = true
    this.#reading ??= this.#readAll()
    return this.#reading
  }

  async #readAll(): Promise<void> {
    try {
      while (this.#again) {
        this.#again = false
        await this.#read()
      }
    } finally {
      this.#reading = null
    }
  }

  async #read(): Promise<void> {
    const params = { params: { path: this.path } }
    try {
      const [record, standing, captures] = await Promise.all([
        got(api.GET('/api/surveys/{survey}/record', params)),
        got(api.GET('/api/surveys/{survey}/ledger', params)),
        got(api.GET('/api/surveys/{survey}/captures', params)),
      ])
      this.#take(record)
      this.ledger = standing.ledger
      this.warnings = standing.warnings
      this.waiting = standing.waiting
      this.captures = captures
      this.problem = null
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.problem = error.problem
    }
  }

  /** Makes the record say what some of its parts say, as seen; throws `Refused`. */
  async say(parts: Partial<Omit<Survey, 'version'>>): Promise<void> {
    await fetched(`/api/surveys/${encodeURIComponent(this.name)}/record?${this.by()}`, {
      method: 'PATCH',
      headers: { 'content-type': 'application/json', 'if-match': `"${this.record?.version ?? 0}"` },
      body: JSON.stringify(parts),
    })
    await this.reread()
  }

  /** Reads the record alone, which is quicker than all; the rest follows from what the server tells. */
  async reread(): Promise<void> {
    this.#take(await got(api.GET('/api/surveys/{survey}/record', { params: { path: this.path } })))
  }
  /** A record that was overtaken on its way is not taken. */
  #take(record: Survey): void {
    if (record.version >= (this.record?.version ?? 0)) this.record = record
  }

  /** Says that a page tells by itself how a job ends. */
  tells(job: string, page: Page): void {
    this.told = new Map([...this.told, [job, page]])
  }

  /** Who writes, as a query. */
  by(): string {
    return new URLSearchParams({ by: who.name }).toString()
  }
}

/** Who works in this tab; forgotten with it. */
class Who {
  name = $state(sessionStorage.getItem('who') ?? '')
  set(name: string): void {
    this.name = name
    sessionStorage.setItem('who', name)
  }
}
export const who = new Who()
