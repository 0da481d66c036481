// The life of a found item: what was done with it, step by step.
import { Refused, type Schemas } from '../api/client'
import { who, type Work } from '../lib/work.svelte'

export type Item = Schemas['FoundItem']
export type Custody = Schemas['Custody']

/** Steps that are taken often; `to` is asked for where it matters. */
export const STEPS: { does: string; note: string; asksTo: boolean }[] = [
  { does: 'Left and watched', note: 'left in place and watched', asksTo: false },
  { does: 'Sealed', note: 'sealed: ', asksTo: false },
  { does: 'Handed over', note: 'handed over', asksTo: true },
]

/** What an item is called until somebody says how it looks. */
export const UNDESCRIBED = 'Not described yet'

/** Stands for an item that is being described and is not written yet. */
export const NEW = 'new'

/** An item found now, not described. */
export const foundNow = (found_at: string, emissions: string[] = []): Item =>
  ({ id: '', what: UNDESCRIBED, place: null, found_at, found_by: who.name || null, radiating: null, emissions, photographs: [], custody: [], notes: null })

/** Writes an item that is not written yet; gives the id that the survey gave it. Others stay as they are, so
 * that it goes beside whatever was written meanwhile. Throws `Refused`. */
export async function addItem(work: Work, { id: _, ...item }: Item): Promise<string> {
  for (let tries = TRIES; ; tries--) {
    if (!work.record) await work.reread()
    const items = work.record?.found_items ?? []
    try {
      await work.say({ found_items: [...items, item as Item] })
      const had = new Set(items.map((one) => one.id))
      return work.record?.found_items.find((one) => !had.has(one.id))?.id ?? ''
    } catch (error) {
      if (!(error instanceof Refused && error.changed) || tries === 1) throw error
      await work.reread()
    }
  }
}
const TRIES = 5

/** The last that is known of it, in words. */
export function life(item: Item): string {
  const last = item.custody.at(-1)
  if (!last) return item.place ? `located at ${item.place}` : 'place not said'
  if (last.to) return `with ${last.to}`
  return last.note ?? 'in custody'
}

/** Says one item of the record anew; the others stay as they are. */
export async function sayItem(work: Work, item: Item): Promise<void> {
  const items = work.record?.found_items ?? []
  await work.say({ found_items: items.map((one) => (one.id === item.id ? item : one)) })
}
