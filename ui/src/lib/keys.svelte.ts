// Keys that do something. Each page lists its own while it is shown; the help overlay lists them all.
/** `shift`: with that key held, or not; without it, either way. `always`: in fields and over dialogs too. */
export type Key = { key: string; shift?: boolean; always?: boolean; does: string; run: () => void }

type Group = { title: string; keys: Key[] }

class Keys {
  // The list itself is no state: an effect's clean-up would read state as it was before the change that
  // ran it, and so put back what others had listed meanwhile.
  #listed: Group[] = []
  groups = $state.raw<Group[]>([])

  /** Listens to these keys until what it returns is called. For an `$effect`. */
  use(title: string, keys: Key[]): () => void {
    const group = { title, keys }
    this.groups = this.#listed = [...this.#listed, group]
    return () => (this.groups = this.#listed = this.#listed.filter((other) => other !== group))
  }

  pressed(event: KeyboardEvent): void {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return
    const elsewhere = writes(event.target) || document.querySelector('dialog[open]') !== null || presses(event)
    // The newest group first: a page's own key goes before the frame's.
    for (const group of this.#listed.toReversed()) {
      const key = group.keys.find((one) => (one.always || !elsewhere) && one.key === event.key && (one.shift ?? event.shiftKey) === event.shiftKey)
      if (key) {
        event.preventDefault()
        key.run()
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
