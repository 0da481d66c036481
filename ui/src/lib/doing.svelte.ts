// One thing that is being done: busy until it is answered, with what the server refused.
import { Refused } from '../api/client'

export class Doing {
  busy = $state(false)
  problem = $state.raw<Refused['problem'] | null>(null)

  /** Whether it was done. */
  async run(what: () => Promise<unknown>): Promise<boolean> {
    if (this.busy) return false
    this.busy = true
    this.problem = null
    try {
      await what()
      return true
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.problem = error.problem
      return false
    } finally {
      this.busy = false
    }
  }
}
