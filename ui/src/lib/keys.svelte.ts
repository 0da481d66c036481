// Keys that do something. Each page lists its own while it is shown; the help overlay lists them all.
import { untrack } from 'svelte'

export type Key = { key: string; does: string; run: () => void }

class Keys {
  groups = $state.raw<{ title: string; keys: Key[] }[]>([])

  /** Listens to these keys until what it returns is called. For an `$effect`. */
  use(title: string, keys: Key[]): () => void {
    const group = { title, keys }
    // An effect that lists keys is not run again because others list theirs.
    const before = untrack(() => this.groups)
    this.groups = [...before, group]
    return () => (this.groups = untrack(() => this.groups).filter((other) => other !== group))
  }

  pressed(event: KeyboardEvent): void {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return
    if (writes(event.target)) return
    if (document.querySelector('dialog[open]')) return
    // The newest group first: a page's own key goes before the frame's.
    for (const group of this.groups.toReversed()) {
      const key = group.keys.find((one) => one.key === event.key)
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
