// The life of a found item: what was done with it, step by step.
import type { Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'

export type Item = Schemas['FoundItem']
export type Custody = Schemas['Custody']

/** Steps that are taken often; `to` is asked for where it matters. */
export const STEPS: { does: string; note: string; asksTo: boolean }[] = [
  { does: 'Left and watched', note: 'left in place and watched', asksTo: false },
  { does: 'Sealed', note: 'sealed: ', asksTo: false },
  { does: 'Handed over', note: 'handed over', asksTo: true },
]

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
