// Entries of the journal that can be taken back, as acts of a person.
import type { Schemas } from '../api/client'
import type { Entry } from '../lib/journal'

type Undoable = Schemas['Undoable']
/** `takesBack`: it is itself a taking back. */
export type Act = { entries: Undoable[]; takesBack: boolean }

/** The numbers of entries that take back; one that takes back a taking back does anew what was done. */
export function takingBack(journal: readonly Entry[]): Set<number> {
  const back = new Set<number>()
  for (const { seq, kind, body } of journal) {
    if (kind !== 'undo') continue
    const { undoes } = JSON.parse(body) as { undoes: number }
    if (!back.has(undoes)) back.add(seq)
  }
  return back
}

/** Rows that were decided at one time are taken back together; all else one by one. */
export function acts(entries: readonly Undoable[], back: ReadonlySet<number>): Act[] {
  const out: Act[] = []
  for (const entry of entries) {
    const act = out.at(-1)
    const first = act?.entries[0]
    if (act && first?.time === entry.time && first.by === entry.by && decides(entry) && decides(first)) act.entries.push(entry)
    else out.push({ entries: [entry], takesBack: back.has(entry.entry) })
  }
  return out
}
const decides = (entry: Undoable) => /^E\d+ is /.test(entry.what)

/** The newest act that stands: what one means who takes back without looking. */
export const newest = (all: readonly Act[]): Act | undefined => all.find((act) => !act.takesBack)
