// Keys that do something. Each page says what its own do while it is shown; `keymap` lists them all.
import { ALWAYS, type Part, type Runs } from './keymap'

type Group = { part: Part; runs: Record<string, () => void> }

class Keys {
  // The list itself is no state: an effect's clean-up would read state as it was before the change that
  // ran it, and so put back what others had listed meanwhile.
  #listed: Group[] = []
  groups = $state.raw<Group[]>([])

  /** Listens to the keys of a part of the page until what it returns is called. For an `$effect`. */
  use<P extends Part>(part: P, runs: Runs<P>): () => void {
    const group = { part, runs }
    this.groups = this.#listed = [...this.#listed, group]
    return () => (this.groups = this.#listed = this.#listed.filter((other) => other !== group))
  }

  pressed(event: KeyboardEvent): void {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return
    const elsewhere = writes(event.target) || document.querySelector('dialog[open]') !== null || presses(event)
    // The newest group first: a page's own key goes before the frame's.
    for (const group of this.#listed.toReversed()) {
      const run = (event.shiftKey ? group.runs[`Shift+${event.key}`] : undefined) ?? group.runs[event.key]
      if (run && (!elsewhere || ALWAYS.includes(event.key))) {
        event.preventDefault()
        run()
        return
      }
    }
  }
}
export const keys = new Keys()

function writes(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false
  if (target instanceof HTMLInputElement) return !['checkbox', 'radio', 'range', 'button'].includes(target.type)
  return target instanceof HTMLTextAreaElement || target instanceof HTMLSelectElement || target.isContentEditable
}

/** Enter and Space belong to the link or button that has the focus. */
function presses(event: KeyboardEvent): boolean {
  if (event.key !== 'Enter' && event.key !== ' ') return false
  return event.target instanceof Element && event.target.closest('a, button, input, summary, label') !== null
}
