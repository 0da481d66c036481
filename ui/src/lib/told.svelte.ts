// What the server tells of the open survey at one address, read anew whenever the survey changes.
import { fetched, Refused } from '../api/client'
import type { Work } from './work.svelte'

export class Told<T> {
  value = $state.raw<T | null>(null)
  problem = $state.raw<Refused['problem'] | null>(null)
  /** The entity tag that came with it. */
  version = ''
  #turn = 0

  constructor(readonly work: Work, readonly path: string) {
    $effect(() => {
      // The ledger is read anew after every entry of the journal and every job.
      void work.ledger
      void this.read()
    })
  }

  async read(): Promise<void> {
    const turn = ++this.#turn
    try {
      const answer = await fetched(`/api/surveys/${encodeURIComponent(this.work.name)}/${this.path}`)
      const value = (await answer.json()) as T
      if (turn !== this.#turn) return
      this.version = answer.headers.get('etag') ?? ''
      this.value = value
      this.problem = null
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      if (turn === this.#turn) this.problem = error.problem
    }
  }
}
