// Every emission of the ledger is decided: many by a stated rule, what was planted and the rest singly.

/** Rows that are decided one by one, beside what was planted. */
const SINGLY = 3

export async function accountFor({ page, hand, survey, check, seen }, planted) {
  const dialog = page.getByRole('dialog')
  const standing = async () => (await page.evaluate((name) => fetch(`/api/surveys/${name}/ledger`).then((r) => r.json()), survey)).ledger
  const open = async () => (await standing()).emissions.filter((row) => row.decision.state === 'open').map((row) => row.id)

  async function byRule(rule, ground, reason, view) {
    await hand.press(page.getByRole('button', { name: 'By a rule' }))
    await hand.pick(dialog.getByRole('radio', { name: rule }))
    await hand.pick(dialog.getByRole('radio', { name: ground ? /^accounted/ : /^unresolved/ }))
    if (ground) await hand.choose(dialog.locator('select[name=ground]'), ground)
    await hand.write(dialog.getByLabel('Reason (required)'), reason)
    if (view) await seen(view)
    const decide = dialog.getByRole('button', { name: /^Decide \d+ rows?$/ })
    const rows = Number(/\d+/.exec(await decide.textContent())[0])
    await hand.press(rows > 0 ? decide : dialog.getByRole('button', { name: 'Leave as they are' }))
    await dialog.waitFor({ state: 'detached' })
    return rows
  }
  async function singly(id, state, reason, view) {
    await hand.open(id)
    await page.getByRole('heading', { name: 'Receptions' }).waitFor()
    if (view) await seen(`${view}-reasons`)
    await hand.press(page.getByRole('region', { name: 'Decision' }).getByRole('button', { name: /^Decide/ }))
    await hand.pick(dialog.getByRole('radio', { name: state }))
    await hand.write(dialog.getByLabel('Reason (required)'), reason)
    if (view) await seen(`${view}-deciding`)
    await hand.press(dialog.getByRole('button', { name: 'Decide', exact: true }))
    await dialog.waitFor({ state: 'detached' })
    await page.getByText(reason).waitFor()
    await hand.press(page.getByRole('link', { name: 'All emissions' }))
    await page.locator('tr[data-row]').first().waitFor()
  }

  for (const [i, id] of planted.entries()) await singly(id, /^suspect/, `nobody at the premises knows it (${i + 1} of ${planted.length})`, i === 0 && 'emission')
  const before = (await open()).length
  let byRules = await byRule(/with no antenna/, /^receiver own/, 'the same lines with the antenna taken off', 'rule')
  byRules += await byRule(/very unlikely inside/, /^stronger outside/, 'weaker in every room than at the quay')
  check(byRules >= 5 && (await open()).length === before - byRules, `the rules took ${byRules} of ${before}`)
  // Some of the rest singly; what is left is marked by hand and decided together.
  for (const id of (await open()).slice(0, SINGLY)) await singly(id, /^unresolved/, `${id} wants an hour more in the same room at night`)
  await hand.choose(page.getByRole('search').getByLabel(/^Decision/), /^open$/)
  await hand.tick(page.getByLabel('Mark all that are shown'))
  await page.getByText(/rows marked$/).waitFor()
  await byRule(/that are marked/, null, 'too weak tonight: another night with the long antenna', 'marked')
  await hand.choose(page.getByRole('search').getByLabel(/^Decision/), /^any$/)

  for (const of of ['open', 'changed']) {
    const shown = page.locator(`[data-balance="${of}"] strong`)
    check((await shown.count()) === 0 || (await shown.first().textContent()) === '0', `some stand ${of}`)
  }
  const { balance } = await standing()
  check(balance.open === 0 && balance.changed === 0 && balance.suspect === planted.length, `the balance is ${JSON.stringify(balance)}`)
  await seen('decided')
}
