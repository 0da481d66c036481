// Something is found: one key, a calm card, then the item described, watched, photographed.
import { photograph } from './pictures.mjs'

/** Goes through it; gives the item as it stands in the record. */
export async function found({ page, hand, survey, check, seen }, emission) {
  const record = () => page.evaluate((name) => fetch(`/api/surveys/${name}/record`).then((r) => r.json()), survey)
  const dialog = page.getByRole('dialog')
  const began = Date.now()
  if (hand.key) await hand.key('!')
  else await hand.press(page.getByRole('button', { name: 'Something found' }))
  await dialog.getByText('is written down').waitFor()
  await seen('something-found')
  await hand.press(dialog.getByRole('button', { name: 'Describe it now' }))
  await hand.write(dialog.getByLabel('What it looks like'), 'grey box in the foot of the desk lamp, two wires')
  await hand.write(dialog.getByLabel('Where it lies'), "Director's office")
  await hand.pick(dialog.getByRole('radio', { name: 'yes' }))
  await hand.write(dialog.getByLabel(/^Emissions that it explains/), emission)
  await hand.press(dialog.getByRole('button', { name: 'Write down' }))
  await dialog.getByText('Written down.').waitFor()
  await hand.press(dialog.getByRole('button', { name: 'Left and watched' }))
  await dialog.getByText('left in place and watched').first().waitFor()
  await hand.files(dialog.getByLabel('Add photographs'), [await photograph(page, 'lamp.jpg')])
  await dialog.getByRole('img', { name: /lamp\.jpg/ }).waitFor()
  await seen('item')
  await hand.press(dialog.getByRole('button', { name: 'Close' }))
  await dialog.waitFor({ state: 'detached' })

  const { found_items: items } = await record()
  check(items.length === 1, `${items.length} items were found`)
  const [item] = items
  check(Math.abs(Date.parse(item.found_at) - began) < 60_000, `it was found at ${item.found_at}`)
  check(item.emissions[0] === emission && item.radiating === true && item.photographs.length === 1 && item.custody.length === 1, `the item is ${JSON.stringify(item)}`)
  return item
}
