// Keys that do something. Each page lists its own while it is shown; the help overlay lists them all.
export type Key = { key: string; does: string; run: () => void }

class Keys {
  groups = $state.raw<{ title: string; keys: Key[] }[]>([])

  /** Listens to these keys until what it returns is called. For an `$effect`. */
  use(title: string, keys: Key[]): () => void {
    const group = { title, keys }
    this.groups = [...this.groups, group]
    return () => (this.groups = this.groups.filter((other) => other !== group))
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
