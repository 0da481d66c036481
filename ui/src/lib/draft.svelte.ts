// A thing of the record while it is edited. What another wrote of it meanwhile is never overwritten
// unsaid, and what was typed is kept.
import { Refused } from '../api/client'
import type { Survey } from '../api/client'
import type { Work } from './work.svelte'

export type Parts = Partial<Omit<Survey, 'version'>>

export class Draft<T extends object> {
  value: T
  problem = $state.raw<Refused['problem'] | null>(null)
  /** Whether what stands there became another since this was begun. */
  changed = $state(false)
  busy = $state(false)
  #base: string

  /** `stands` gives the thing as the record has it, null if it has none; `parts` what to write for it. */
  constructor(
    readonly work: Work,
    readonly stands: () => T | null,
    readonly parts: (value: T | null) => Parts,
    fresh: T,
  ) {
    this.#base = JSON.stringify(stands())
    const value = $state(structuredClone(stands() ?? fresh))
    this.value = value
  }

  /** Whether it was written. */
  save(): Promise<boolean> {
    return this.#write(() => this.parts(blank($state.snapshot(this.value) as T)))
  }

  /** Takes the thing out. */
  remove(): Promise<boolean> {
    return this.#write(() => this.parts(null))
  }

  async #write(parts: () => Parts): Promise<boolean> {
    if (this.busy || this.#overtaken()) return false
    this.busy = true
    this.problem = null
    try {
      await this.work.say(parts())
      return true
    } catch (error) {
      if (!(error instanceof Refused)) throw error
      if (!error.changed) this.problem = error.problem
      else {
        await this.work.reread()
        // Another thing of the same part changed: this one can be written beside it now.
        if (!this.#overtaken()) this.problem = { ...error.problem, remedy: 'It was read again. Save once more.' }
      }
      return false
    } finally {
      this.busy = false
    }
  }

  #overtaken(): boolean {
    const now = JSON.stringify(this.stands())
    const overtaken = now !== this.#base
    this.#base = now
    this.changed = overtaken
    return overtaken
  }
}

/** Texts without anything in them are nothing. */
function blank<T>(value: T): T {
  return Object.fromEntries(
    Object.entries(value as object).map(([key, one]) => [key, typeof one === 'string' && !one.trim() ? null : one]),
  ) as T
}

type Lists = { [K in keyof Parts]-?: NonNullable<Parts[K]> extends (infer T)[] ? (T extends { id: string } ? K : never) : never }[keyof Parts]

/** A draft of one thing of a list of the record; without an id, of a new one. */
export function oneOf<K extends Lists>(work: Work, part: K, id: string | null, fresh: object) {
  type T = Survey[K] extends (infer One)[] ? One & { id: string } : never
  const all = () => (work.record?.[part] ?? []) as unknown as T[]
  const stands = () => all().find((one) => one.id === id) ?? null
  const parts = (value: T | null): Parts => {
    const rest = all()
    if (id !== null) return { [part]: rest.flatMap((one) => (one.id !== id ? [one] : value ? [value] : [])) }
    if (!value) return {}
    const { id: _, ...made } = value
    return { [part]: [...rest, made] }
  }
  return new Draft<T>(work, stands, parts, { id: '', ...fresh } as T)
}
