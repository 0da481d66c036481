// The life of a found item: what was done with it, step by step.
import type { Schemas } from '../api/client'
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

/** Opens an item found now, to be described later; gives the id that the survey gave it. Throws `Refused`. */
export async function openItem(work: Work, found_at: string, emissions: string[] = []): Promise<string> {
  const items = work.record?.found_items ?? []
  const item: Omit<Item, 'id'> = { what: UNDESCRIBED, place: null, found_at, found_by: who.name || null, radiating: null, emissions, photographs: [], custody: [], notes: null }
  await work.say({ found_items: [...items, item as Item] })
  const had = new Set(items.map((one) => one.id))
  return work.record?.found_items.find((one) => !had.has(one.id))?.id ?? ''
}

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
