// All entries of the journal, read on as it grows.
import { api, got, Refused } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { told, type Told } from './words'

const AT_ONCE = 1000

export class Entries {
  all = $state.raw<Told[]>([])
  problem = $state.raw<Refused['problem'] | null>(null)
  #reading = false

  constructor(readonly work: Work) {
    $effect(() => {
      void work.ledger
      void work.version
      void this.#read()
    })
  }

  async #read(): Promise<void> {
    if (this.#reading) return
    this.#reading = true
    try {
      for (;;) {
        const query = { after: this.all[0]?.seq ?? 0 }
        const more = await got(api.GET('/api/surveys/{survey}/journal', { params: { path: this.work.path, query } }))
        const fresh = more.map((entry) => told(entry, this.work.zone))
        this.all = [...fresh.toReversed(), ...this.all]
        if (more.length < AT_ONCE) break
      }
      this.problem = null
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.problem = error.problem
    } finally {
      this.#reading = false
    }
  }
}
