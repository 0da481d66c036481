// The paced stimulus that runs in this tab: it prompts, and stamps each on-period as it ends, whatever page
// is shown meanwhile. A stamp that the program did not take is kept and sent again.
import { Refused } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { noted } from './notes'
import { begun, left, stepped, stopped, type Paced, type Period, type Script } from './pace'

const LOOK_MS = 200

export class Pace {
  now = $state(0)
  paced = $state.raw<Paced | null>(null)
  place = $state('')
  stamped = $state.raw<Period[]>([])
  unsent = $state.raw<Period[]>([])
  problem = $state.raw<Refused['problem'] | null>(null)
  #work: Work | null = null
  #at = ''
  #timer: ReturnType<typeof setInterval> | undefined
  #wake: WakeLockSentinel | null = null
  #sending = false

  /** The survey that it is of. */
  get survey(): string | null {
    return this.#work?.name ?? null
  }
  get runs(): boolean {
    return this.paced !== null && this.paced.phase !== 'over'
  }
  get left_s(): number {
    return this.paced ? Math.ceil(left(this.paced, this.now) / 1000) : 0
  }

  begin(work: Work, at: string, place: string, script: Script): void {
    this.#work = work
    this.#at = at
    this.place = place
    this.stamped = []
    this.unsent = []
    this.problem = null
    this.now = Date.now()
    this.paced = begun(script, this.now)
    this.#timer = setInterval(() => this.#look(), LOOK_MS)
    void this.#stayAwake()
  }

  #look(): void {
    if (!this.paced) return
    // While the page is hidden nobody is prompted.
    if (document.visibilityState === 'hidden') return
    if (!this.#wake || this.#wake.released) void this.#stayAwake()
    this.now = Date.now()
    this.#take(stepped(this.paced, this.now))
  }
  #take({ paced, ended }: { paced: Paced; ended: Period | null }): void {
    this.paced = paced
    if (ended) {
      this.unsent = [...this.unsent, ended]
      void this.send()
    }
    if (paced.phase === 'over') {
      clearInterval(this.#timer)
      void this.#wake?.release()
      this.#wake = null
    }
  }

  /** Ends it now, keeping what was on. */
  stop(): void {
    if (this.paced && this.runs) this.#take(stopped(this.paced, Date.now()))
  }
  /** Puts away what is over. */
  clear(): void {
    if (!this.runs && this.unsent.length === 0) this.paced = null
  }

  /** Sends what was not taken yet. */
  async send(): Promise<void> {
    if (this.#sending || !this.#work || !this.paced) return
    this.#sending = true
    this.problem = null
    const { what } = this.paced.script
    try {
      for (let period = this.unsent[0]; period; period = this.unsent[0]) {
        const [from, until] = [new Date(period.from).toISOString(), new Date(period.until).toISOString()]
        await noted(this.#work, { kind: 'stimulus', what, at: this.#at, from, until })
        this.stamped = [...this.stamped, period]
        this.unsent = this.unsent.slice(1)
      }
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      this.problem = error.problem
    } finally {
      this.#sending = false
    }
  }

  async #stayAwake(): Promise<void> {
    if (!('wakeLock' in navigator)) return
    try {
      this.#wake = await navigator.wakeLock.request('screen')
      if (!this.runs) await this.#wake.release()
    } catch {
      // The machine saves its battery: the prompts are late then, and stamped as they were.
      this.#wake = null
    }
  }
}

/** The one that a person goes by in this tab. */
export const pace = new Pace()
