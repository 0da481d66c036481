// A recording on its way in: its files, sent into one upload of the server, what the server understands
// of them, and the job that brings them in.
import { fetched, Refused, type Job, type Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'

export type Told = Refused['problem']
export type Sending = { name: string; bytes: number; sent: number; state: 'waits' | 'goes' | 'whole' | 'failed'; file: File | null }

/** A file as the server would read it. */
export type Preview = Schemas['Preview']
export type RowSeen = Schemas['RowSeen']

/** Files of one stem belong together: a SigMF recording is two. */
export const stem = (name: string) => name.replace(/\.sigmf-(meta|data)$/i, '')

/** Whether the program holds what came whole. */
export function isIn(sent: Schemas['Upload'], held: readonly Schemas['Upload'][]): boolean {
  const there = held.find((one) => one.upload === sent.upload)
  return !!there && sent.files.every((file) => there.files.some(({ name, bytes }) => name === file.name && bytes === file.bytes))
}

export class Parcel {
  readonly stem: string
  files = $state<Sending[]>([])
  /** Id of the server's upload, once it has begun. */
  upload = $state<string | null>(null)
  preview = $state.raw<Preview | null>(null)
  problem = $state.raw<Told | null>(null)
  note = $state('')
  /** What is said over the files' metadata. */
  over = $state<Schemas['Over']>({})
  /** Whether a person confirmed what the columns mean. */
  confirmed = $state(false)
  chosen = $state(true)
  job = $state<string | null>(null)
  #request: XMLHttpRequest | null = null

  constructor(readonly work: Work, name: string) {
    this.stem = stem(name)
  }

  get whole(): boolean {
    return this.files.length > 0 && this.files.every((file) => file.state === 'whole')
  }
  get #path(): string {
    return `/api/surveys/${encodeURIComponent(this.work.name)}/uploads/${this.upload}`
  }
  get running(): Job | undefined {
    return this.work.jobs.find((job) => job.id === this.job)
  }
  /** Whether its bytes are with the program alone: it came before this page was read anew. */
  get unheld(): boolean {
    return this.upload !== null && this.job === null && this.files.every((file) => !file.file)
  }
  /** What came whole, of which upload. */
  get sent(): Schemas['Upload'] {
    return { upload: this.upload ?? '', files: this.files.filter((file) => file.state === 'whole').map(({ name, bytes }) => ({ name, bytes })) }
  }
  /** The program lost it: its files are sent again, as far as they are at hand; whether any is. */
  lose(): boolean {
    this.files = this.files.filter((file) => file.file)
    this.upload = this.job = null
    this.preview = null
    for (const file of this.files) [file.state, file.sent] = ['waits', 0]
    this.problem = null
    return this.files.length > 0
  }
  /** The program ended while it brought it in, and has it still. */
  askAgain(): void {
    this.job = null
    this.note = 'The program ended before it was in. Bring it in once more.'
  }
  /** Whether what its columns mean is still to be confirmed. */
  get asks(): boolean {
    const table = this.preview?.table
    return !!table && !this.confirmed && !table.proposal?.is_certain
  }

  async begin(): Promise<void> {
    const answer = await fetched(`/api/surveys/${encodeURIComponent(this.work.name)}/uploads`, { method: 'POST' })
    this.upload = ((await answer.json()) as Schemas['Upload']).upload
  }

  /** Sends one file; what did not come whole leaves nothing, and can be sent again. */
  send(sending: Sending): Promise<void> {
    return new Promise((done) => {
      const request = new XMLHttpRequest()
      this.#request = request
      const failed = (told: Told) => {
        sending.state = 'failed'
        this.problem = told
        done()
      }
      request.upload.onprogress = (event) => (sending.sent = event.loaded)
      request.onload = () => {
        if (request.status !== 201) return failed(JSON.parse(request.responseText) as Told)
        sending.state = 'whole'
        sending.sent = sending.bytes
        done()
      }
      request.onerror = request.onabort = () =>
        failed({ title: 'Broken off', detail: `${sending.name} did not come whole`, remedy: 'Send it again; nothing of it was kept.' })
      request.open('PUT', `${this.#path}/${encodeURIComponent(sending.name)}`)
      request.setRequestHeader('content-type', 'application/octet-stream')
      sending.state = 'goes'
      sending.sent = 0
      request.send(sending.file)
    })
  }

  /** Asks how its recording would be read, with what is said of it. */
  async look(): Promise<void> {
    const file = this.files[0]?.name
    if (!this.upload || !file) return
    try {
      const answer = await fetched(`${this.#path}/preview`, {
        method: 'POST', headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ file, overrides: this.over }),
      })
      this.preview = (await answer.json()) as Preview
      this.problem = null
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.problem = error.problem
    }
  }

  async discard(): Promise<void> {
    this.#request?.abort()
    if (!this.upload) return
    try {
      await fetched(this.#path, { method: 'DELETE' })
    } catch (error) {
      // It may be gone already, which is what was wanted.
      if (!(error instanceof Refused)) throw error
    }
  }
}
