// What was typed and not written down yet: it is asked about before it is thrown away, by closing a card or
// by opening another page. A field that keeps its text by itself stands within `data-kept`.
import type { Route } from './route.svelte'

type Field = HTMLInputElement | HTMLTextAreaElement
/** Fields that hold no text of a person's own. */
const OTHER = ['checkbox', 'radio', 'range', 'file', 'search', 'button', 'submit']

class Unsaved {
  /** Where one wants to go, while it is asked. */
  asked = $state<string | null>(null)
  /** What stood in a field when it was first gone to. */
  readonly #before = new Map<Field, string>()

  /** Notes what stands in a field, before anything is typed there. */
  begin(target: EventTarget | null): void {
    if (isField(target) && !this.#before.has(target)) this.#before.set(target, target.value)
  }

  /** Whether anything typed within a part of the page would be lost with it. */
  within(part: Node): boolean {
    for (const field of this.#before.keys()) if (!field.isConnected) this.#before.delete(field)
    return [...this.#before].some(([field, before]) => part.contains(field) && field.value !== before && field.value.trim() !== '')
  }

  /** What stands within a part of the page now is written down, or given up. */
  forget(part: Node = document): void {
    for (const field of this.#before.keys()) if (part.contains(field)) this.#before.set(field, field.value)
  }

  /** Whether one may go from one place to another; if not, it is asked. */
  lets(from: Route, to: Route, hash: string): boolean {
    const same = from.survey === to.survey && from.page === to.page && from.id === to.id && from.query.get('item') === to.query.get('item')
    if (same || !this.within(document)) return true
    this.asked = hash
    return false
  }
}
export const unsaved = new Unsaved()

function isField(target: EventTarget | null): target is Field {
  if (!(target instanceof HTMLInputElement || target instanceof HTMLTextAreaElement)) return false
  return !OTHER.includes(target.type) && target.closest('[data-kept]') === null
}
