// The ledger by keyboard alone: moving, opening, deciding, several by a stated rule, taking back; and two
// tabs that decide one row, of which the second is told.
export async function run({ page, url, survey, check, context, wrong, picture }) {
  const address = `${url}#/s/${survey}/emissions`
  const count = async (of, tab = page) => Number(await tab.locator(`[data-balance="${of}"] strong`).first().textContent())
  const becomes = async (of, n, tab = page) => {
    await tab.waitForFunction(([key, want]) => document.querySelector(`[data-balance="${key}"] strong`)?.textContent === String(want), [of, n])
  }
  await page.goto(address)
  await page.locator('tr[data-row]').first().waitFor()
  const rows = await page.locator('tr[data-row]').count()
  const open = await count('open')
  check(rows > 5 && open > 5, 'the demonstration has rows to decide')
  const inOrder = await page.locator('tr[data-row]').evaluateAll((all) => all.map((row) => row.dataset.row))
  const first = inOrder[0]

  // Keys move the cursor down and up again; Enter opens the row that is looked at first.
  await page.keyboard.press('j')
  await page.keyboard.press('ArrowDown')
  const third = await page.locator('tr.cursor').getAttribute('data-row')
  check(third !== first, 'keys do not move')
  await page.keyboard.press('k')
  await page.keyboard.press('ArrowUp')
  check((await page.locator('tr.cursor').getAttribute('data-row')) === first, 'keys do not move back')
  await page.keyboard.press('Enter')
  await page.getByRole('heading', { name: 'Levels by place' }).waitFor()
  check(page.url().endsWith(`/emissions/${first}`), 'Enter opens another row')
  await picture('emission')

  // It is decided without a pointer: a opens the dialog on the choice of states.
  await page.keyboard.press('a')
  const dialog = page.getByRole('dialog')
  await dialog.waitFor()
  // Nothing is chosen for the person, and without a choice nothing is written.
  check((await dialog.getByRole('radio', { checked: true }).count()) === 0, 'a decision stands chosen before anybody chose')
  await dialog.getByLabel('Reason (required)').fill('not chosen yet')
  await dialog.getByRole('button', { name: 'Decide', exact: true }).click()
  const told = await dialog.locator('input[name=state]').first().evaluate((input) => (input === document.activeElement ? input.validationMessage : ''))
  check(told === 'Choose what is decided.', `without a choice it says ‘${told}’`)
  check((await standing(page, survey)).ledger.balance.open === open, 'something was decided without a choice')
  // Escape asks before it throws away what was typed.
  await page.keyboard.press('Escape')
  await dialog.getByText('What you typed is not written down.').waitFor()
  await picture('emission-decide-asked')
  await page.keyboard.press('Escape')
  await dialog.getByText('What you typed is not written down.').waitFor({ state: 'detached' })
  check((await dialog.getByLabel('Reason (required)').inputValue()) === 'not chosen yet', 'what was typed is lost')
  await page.keyboard.press('Escape')
  await dialog.getByRole('button', { name: 'Throw it away' }).click()
  await dialog.waitFor({ state: 'detached' })
  await page.keyboard.press('a')
  await dialog.waitFor()
  check((await dialog.getByLabel('Reason (required)').inputValue()) === '', 'what was thrown away is still there')
  await dialog.locator('input[name=state]').first().focus()
  await page.keyboard.press('ArrowDown')
  check(await dialog.getByRole('radio', { name: /suspect/ }).isChecked(), 'the arrow does not choose suspect')
  await page.keyboard.press('Tab')
  await page.keyboard.type('on only while the room was in use')
  await picture('emission-decide')
  await page.keyboard.press('Tab')
  await page.keyboard.press('Tab')
  await page.keyboard.press('Enter')
  await dialog.waitFor({ state: 'detached' })
  await page.getByText('on only while the room was in use').waitFor()
  // What comes next is what came next before, though the decision changed the ranks.
  await page.keyboard.press('j')
  await page.waitForFunction((id) => location.hash.endsWith(`/emissions/${id}`), inOrder[1])
  await page.keyboard.press('k')
  await page.waitForFunction((id) => location.hash.endsWith(`/emissions/${id}`), first)
  await page.keyboard.press('Escape')
  await becomes('open', open - 1)
  await becomes('suspect', 1)

  // A filter by words leaves fewer rows, and gives the keys back to the table.
  await page.keyboard.press('/')
  await page.keyboard.type('zzzz')
  await page.getByText('No row is left by this filter').waitFor()
  await page.keyboard.press('Escape')
  check((await page.locator('tr[data-row]').count()) === rows, 'Escape does not empty the filter')

  // Two rows are marked and decided together; the rule is in the reason.
  await page.keyboard.press('End')
  const last = await page.locator('tr.cursor').getAttribute('data-row')
  await page.keyboard.press('x')
  await page.keyboard.press('k')
  await page.keyboard.press('x')
  await page.getByText('2 rows marked').waitFor()
  await page.keyboard.press('r')
  await dialog.getByText('These 2 rows').waitFor()
  await dialog.getByRole('radio', { name: /^accounted/ }).check()
  await dialog.locator('select[name=ground]').selectOption('receiver-own')
  await dialog.getByLabel('Reason (required)').fill('there with no antenna connected')
  await picture('emissions-rule')
  await dialog.getByRole('button', { name: 'Decide 2 rows' }).click()
  await dialog.waitFor({ state: 'detached' })
  await becomes('accounted', 2)
  await becomes('open', open - 3)
  const { ledger } = await standing(page, survey)
  const reason = ledger.emissions.find((row) => row.id === last).decision.reason
  check(/^By rule: rows marked by hand \(.*2 rows together\)\. there with no antenna connected$/.test(reason), `the reason does not say the rule: ${reason}`)

  // What was done last is taken back by keys, all of it.
  await page.keyboard.press('u')
  await dialog.getByRole('button', { name: 'Take back' }).first().waitFor()
  await page.keyboard.press('Enter')
  await dialog.waitFor({ state: 'detached' })
  await becomes('accounted', 0)
  await becomes('open', open - 1)

  // Two tabs see the same row; the second to decide is told, sees it as it is now, and loses nothing.
  const other = await context.newPage()
  const row = third
  for (const tab of [page, other]) {
    await tab.goto(`${address}/${row}`)
    await tab.getByRole('button', { name: /^Decide/ }).first().click()
    await tab.getByRole('dialog').getByRole('radio', { name: /unresolved/ }).check()
  }
  await page.getByRole('dialog').getByLabel('Reason (required)').fill('first: an hour more at night')
  await page.getByRole('dialog').getByRole('button', { name: 'Decide', exact: true }).click()
  await page.getByRole('dialog').waitFor({ state: 'detached' })
  const second = other.getByRole('dialog')
  await second.getByLabel('Reason (required)').fill('second: a walk with the antenna')
  await second.getByRole('button', { name: 'Decide', exact: true }).click()
  await second.getByText('Changed while you decided').waitFor()
  await second.getByText('first: an hour more at night').waitFor()
  check((await second.getByLabel('Reason (required)').inputValue()) === 'second: a walk with the antenna', 'what was typed is lost')
  await picture('emissions-two-tabs', other)
  await second.getByRole('button', { name: /Decide again/ }).click()
  await second.waitFor({ state: 'detached' })
  await page.getByText('second: a walk with the antenna').waitFor()
  await other.close()
  // The refusal itself is told by the browser too.
  wrong.splice(0, wrong.length, ...wrong.filter((text) => !text.includes('412')))

  // The timeline shows it, and its name leads back.
  await page.goto(`${url}#/s/${survey}/timeline`)
  await page.locator('canvas').waitFor()
  await page.keyboard.press('+')
  await picture('timeline')
  await page.getByRole('link', { name: new RegExp(`\\b${first}\\b`) }).first().click()
  await page.getByRole('heading', { name: 'Timing' }).waitFor()
}

const standing = (page, survey) => page.evaluate(async (name) => (await fetch(`/api/surveys/${name}/ledger`)).json(), survey)
