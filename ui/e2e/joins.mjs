// Two rows are said to be one emission, and one is taken apart again: every later ledger obeys, the oldest
// id stays, the other leads to it, and both are taken back through the journal.
import { sound } from './parts/axe.mjs'

export async function run({ page, url, survey, check, picture, restart, wrong }) {
  const ledger = async () => (await page.evaluate((name) => fetch(`/api/surveys/${name}/ledger`).then((r) => r.json()), survey)).ledger
  const row = async (id) => (await ledger()).emissions.find((one) => one.id === id)
  const heardBy = (one) => new Set(one.receptions.filter((r) => r.heard).map((r) => r.capture))
  const dialog = page.getByRole('dialog')
  const all = async () => {
    await page.goto(`${url}#/s/${survey}/emissions`)
    await page.locator('tr[data-row]').first().waitFor()
  }

  // Two rows that share no capture that heard them, far apart in frequency: a sender that changed its channel.
  await all()
  const before = await ledger()
  const rows = before.emissions.toSorted((a, b) => a.attention.rank - b.attention.rank)
  const apart = (a, b) => [...heardBy(a)].every((capture) => !heardBy(b).has(capture))
  const far = (a, b) => Math.abs(a.centre_hz - b.centre_hz) > 5e6 && a.low_hz > 0 && b.low_hz > 0
  const [one, other] = rows.flatMap((a, i) => rows.slice(i + 1).map((b) => [a, b])).find(([a, b]) => apart(a, b) && far(a, b) && heardBy(a).size > 0 && heardBy(b).size > 0) ?? []
  check(one !== undefined, 'no two rows lie apart')
  for (const { id } of [one, other]) await page.getByRole('checkbox', { name: `Mark ${id}`, exact: true }).check()
  await page.getByRole('button', { name: 'Join' }).click()
  await dialog.getByRole('heading', { name: 'Join 2 rows' }).waitFor()
  const nevertheless = dialog.getByRole('checkbox', { name: /one nevertheless/ })
  // Without a reason nothing is sent; with one it is said how far apart they lie.
  await dialog.getByRole('button', { name: 'Join' }).click()
  check((await nevertheless.count()) === 0, 'something was sent without a reason')
  await dialog.getByLabel(/^Reason/).fill('one sender, which changed its channel')
  await dialog.getByRole('button', { name: 'Join' }).click()
  const objection = await dialog.getByRole('alert').textContent()
  check(objection.includes(one.id) && objection.includes(other.id) && / lie [\d.]+ [MG]Hz apart/.test(objection), `it is not said that they lie apart: ${objection}`)
  check((await ledger()).version === before.version, 'something was written')
  wrong.length = 0
  await nevertheless.check()
  await sound(page, 'joining', check, picture)
  await dialog.getByRole('button', { name: 'Join' }).click()
  await dialog.waitFor({ state: 'detached' })
  const number = (id) => Number(id.slice(1))
  const [oldest, gone] = number(one.id) < number(other.id) ? [one, other] : [other, one]
  await page.locator(`tr[data-row="${gone.id}"]`).waitFor({ state: 'detached' })
  const joined = await row(oldest.id)
  check(joined.aliases.includes(gone.id), `${oldest.id} does not say that it was ${gone.id}`)
  check([...heardBy(one), ...heardBy(other)].every((capture) => heardBy(joined).has(capture)), 'a reception is lost')
  check((await ledger()).emissions.length === before.emissions.length - 1, 'not one row fewer')

  // The old id leads to it, also after the program was killed.
  await restart()
  await page.goto(`${url}#/s/${survey}/emissions/${gone.id}`)
  await page.reload()
  await page.getByRole('heading', { level: 1 }).getByText(`also ${gone.id}`).waitFor()
  await sound(page, 'joined', check, picture)

  // What the second brought is split off again, capture by capture.
  for (const capture of heardBy(other)) await page.getByRole('checkbox', { name: `Split off ${capture}`, exact: true }).check()
  await page.getByLabel(/^Reason/).fill('another sender after all')
  await page.getByRole('button', { name: /^Split .* off$/ }).click()
  await page.waitForFunction((id) => !location.hash.endsWith(`/${id}`), gone.id)
  const made = decodeURIComponent(new URL(page.url()).hash.split('/').at(-1))
  await page.getByRole('heading', { level: 1 }).getByText(made).waitFor()
  const parts = [await row(oldest.id), await row(made)]
  check(parts.every(Boolean), `there is no ${made}`)
  check(apart(...parts), 'the two parts share a capture')
  const together = [...heardBy(parts[0]), ...heardBy(parts[1])].sort()
  check(JSON.stringify(together) === JSON.stringify([...heardBy(joined)].sort()), 'a reception is lost by the split')
  await sound(page, 'split', check, picture)

  // The journal says which rows, at which frequencies, and why.
  await page.goto(`${url}#/s/${survey}/journal`)
  const entry = page.getByText(/^Put together/).first()
  await entry.waitFor()
  const put = await entry.textContent()
  const whole = (of) => String(Math.floor(of.centre_hz / (of.centre_hz >= 1e9 ? 1e9 : 1e6)))
  check([one, other].every((of) => put.includes(`${of.id} at ${whole(of)}`)), `the journal says: ${put}`)
  await page.getByText('another sender after all').first().waitFor()
  await page.getByText('one sender, which changed its channel').first().waitFor()
  await sound(page, 'joins-journal', check, picture)

  // Both are entries of the journal, and the ledger is what it was when they are taken back.
  for (const named of [made, gone.id]) {
    await all()
    await page.keyboard.press('u')
    await dialog.getByRole('button', { name: /^Take back/ }).first().waitFor()
    const act = dialog.getByRole('row', { name: new RegExp(`\\b${oldest.id}\\b.*\\b${named}\\b|\\b${named}\\b.*\\b${oldest.id}\\b`) }).filter({ hasNotText: 'taken back' }).first()
    if (named === made) await sound(page, 'taking-back', check, picture)
    await act.getByRole('button', { name: /^Take back/ }).click()
    await dialog.waitFor({ state: 'detached' })
  }
  // Taken back twice without looking: the act before goes, not the taking back.
  const decided = before.emissions.filter((of) => of.decision.state === 'open').slice(0, 2).map((of) => of.id)
  const { version } = await ledger()
  check(decided.length === 2, 'no two rows stand open')
  for (const [i, id] of decided.entries()) {
    await page.evaluate(([name, id, seen]) => fetch(`/api/surveys/${name}/decisions`, {
      method: 'POST', headers: { 'content-type': 'application/json', 'if-match': `"${seen}"` }, body: JSON.stringify({ ids: [id], state: 'suspect', ground: null, reason: 'to look at' }),
    }), [survey, id, i === 0 ? version : (await ledger()).version])
  }
  for (let n = 0; n < 2; n++) {
    await all()
    await page.keyboard.press('u')
    await dialog.locator('button.main:focus').waitFor()
    await page.keyboard.press('Enter')
    await dialog.waitFor({ state: 'detached' })
  }
  for (const id of decided) check((await row(id)).decision.state === 'open', `${id} is not taken back`)

  // The same rows, by what they hold; one of them may bear the id that the split gave.
  const held = (of) => of.emissions.map((one) => one.receptions.filter((r) => r.heard).map((r) => `${r.capture} ${r.position} ${r.first}`).sort().join()).sort().join('; ')
  check(held(await ledger()) === held(before), 'the ledger is not what it was')
}
