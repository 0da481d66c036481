// All entries of the journal, read on as it grows.
import { Refused } from '../api/client'
import { entriesAfter } from '../lib/journal'
import type { Work } from '../lib/work.svelte'
import { told, type Told } from './words'

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
      const fresh = await entriesAfter(this.work, this.all[0]?.seq ?? 0)
      this.all = [...fresh.map((entry) => told(entry, this.work.zone)).toReversed(), ...this.all]
      this.problem = null
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.problem = error.problem
    } finally {
      this.#reading = false
    }
  }
}
