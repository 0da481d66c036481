// One decision that is being made, on the ledger as it was seen: if a row changed meanwhile nothing is
// written, the ledger is read anew, and what is decided next is decided on that.
import { Refused } from '../api/client'
import { Doing } from '../lib/doing.svelte'
import type { Work } from '../lib/work.svelte'
import { decide } from './decide'
import type { Verdict } from './rule'

export class Deciding extends Doing {
  #version: number
  constructor(readonly work: Work) {
    super()
    this.#version = work.ledger?.version ?? 0
  }

  /** Decides rows, all or none; whether it was done. */
  decide(ids: string[], verdict: Verdict): Promise<boolean> {
    return this.run(async () => {
      try {
        await decide(this.work, ids, verdict, this.#version)
      } catch (error) {
        if (error instanceof Refused && error.changed) {
          await this.work.refresh()
          this.#version = this.work.ledger?.version ?? this.#version
        }
        throw error
      }
    })
  }

  /** Whether a row changed meanwhile. */
  get overtaken(): boolean {
    return this.problem?.status === 412
  }
}
