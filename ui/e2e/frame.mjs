// What stands around every page: the list of surveys, the keys, blank, something found, day and night;
// every page opens without an error, in a second, and axe finds nothing serious in it.
import { judged, sound } from './parts/axe.mjs'

const PAGES = ['survey', 'premises', 'captures', 'spectrum', 'emissions', 'timeline', 'coverage', 'journal', 'report']

export async function run({ page, context, url, survey, check, picture, restart }) {
  const sizes = [['desk', 1440, 900], ['tablet', 1280, 800]]
  await page.goto(url)
  await page.getByRole('heading', { name: 'Surveys' }).waitFor()
  await picture('surveys')
  await page.getByRole('link', { name: /./ }).first().click()
  await page.getByRole('navigation', { name: 'Pages' }).waitFor()

  for (const name of PAGES) {
    await page.goto(`${url}#/s/${survey}/${name}`)
    await page.waitForLoadState('networkidle').catch(() => {})
    await page.waitForTimeout(400)
    for (const light of ['light', 'dark']) {
      if ((await page.evaluate(() => document.documentElement.dataset.light)) !== light) await page.keyboard.press('d')
      // Colours fade over; axe takes them as they are.
      await page.waitForTimeout(250)
      for (const [size, width, height] of sizes) {
        await page.setViewportSize({ width, height })
        await page.waitForTimeout(150)
        await picture(`${name}-${light}-${size}`)
        const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
        check(over <= 0, `${name} is ${over} px wider than a ${size}`)
      }
      await judged(page, `${name} (${light})`, check)
    }
  }
  await page.setViewportSize({ width: 1440, height: 900 })

  // Keys alone: the help lists them, one blanks the page, any other brings it back.
  await page.keyboard.press('?')
  const keys = page.getByRole('dialog', { name: 'Keys' })
  await keys.waitFor()
  for (const part of ['Everywhere', 'Spectrum', 'Timeline', 'Emissions', 'Premises: type it in']) await keys.getByRole('region', { name: part, exact: true }).waitFor()
  await judged(page, 'the keys', check)
  await picture('keys')
  await page.keyboard.press('Escape')
  await page.keyboard.press('b')
  check((await page.title()) === 'Notes', 'a blank page still tells its title')
  await page.keyboard.press('x')
  check((await page.title()) !== 'Notes', 'the page does not come back')

  // Also while one types, over a dialog, and over the list of surveys.
  await page.getByRole('textbox', { name: 'Working' }).focus()
  await page.keyboard.press('F9')
  check((await page.title()) === 'Notes', 'a field keeps the page from going blank')
  await page.keyboard.press('x')
  await page.keyboard.press('F8')
  await page.getByText('is written down').waitFor()
  await page.keyboard.press('F9')
  check((await page.title()) === 'Notes', 'a dialog keeps the page from going blank')
  await page.keyboard.press('x')
  await page.getByText('is written down').waitFor()
  await page.keyboard.press('Escape')
  await page.goto(url)
  await page.getByRole('heading', { name: 'Surveys' }).waitFor()
  await page.keyboard.press('F9')
  check((await page.title()) === 'Notes', 'the list of surveys does not go blank')
  await page.keyboard.press('x')
  await page.goto(`${url}#/s/${survey}/survey`)

  // More tabs than a browser has connections for a host: each reads, and hears of what another wrote.
  const tabs = []
  for (let n = 0; n < 7; n++) {
    const tab = await context.newPage()
    tabs.push(tab)
    await tab.goto(`${url}#/s/${survey}/emissions`)
    await tab.getByText('Nothing runs.').waitFor()
  }
  // The tab that hears for all is closed: another one does.
  await page.goto(url)
  await tabs[6].keyboard.press('!')
  await tabs[6].getByText('is written down').waitFor()
  const made = (await record(page, survey)).found_items.at(-1).id
  for (const tab of tabs.slice(0, 6)) await tab.getByRole('link', { name: new RegExp(`^${made}\\b`) }).waitFor()
  for (const tab of tabs) await tab.close()
  await page.goto(`${url}#/s/${survey}/survey`)
  await page.getByRole('navigation', { name: 'Pages' }).waitFor()

  // What was found long after lies far apart from what was recorded: all of it is shown first, then each part.
  await page.goto(`${url}#/s/${survey}/timeline`)
  const parts = page.getByText('Far apart:').locator('xpath=..').getByRole('button')
  await parts.first().waitFor()
  await picture('timeline-far-apart')
  await parts.first().click()
  await page.waitForTimeout(600)
  await judged(page, 'timeline (far apart)', check)
  await picture('timeline-first-part')
  // An item is described on a card of its own, and written only when it is said to be.
  await page.goto(`${url}#/s/${survey}/emissions?item=new`)
  await page.getByLabel('What it looks like').fill('grey box')
  await sound(page, 'item-new', check, picture)
  await page.keyboard.press('Escape')
  await sound(page, 'item-new-asked', check, picture)
  await page.getByRole('button', { name: 'Throw it away' }).click()
  await page.getByRole('dialog').waitFor({ state: 'detached' })
  await page.goto(`${url}#/s/${survey}/journal`)
  await page.getByRole('button', { name: /^Take back entry/ }).first().click()
  await sound(page, 'take-back', check, picture)
  await page.getByRole('button', { name: 'Leave it as it is' }).click()

  // Something found: the time is written down by itself, and stands after the program was killed.
  const before = (await record(page, survey)).found_items.length
  await page.keyboard.press('!')
  await page.getByText('is written down').waitFor()
  await picture('something-found')
  await page.keyboard.press('Escape')
  await page.keyboard.press('!')
  await page.getByText('is written down').waitFor()
  await page.keyboard.press('Escape')
  await restart()
  await page.reload()
  await page.getByRole('navigation', { name: 'Pages' }).waitFor()
  const after = await record(page, survey)
  check(after.found_items.length === before + 2, 'the found items did not last')
}

const record = (page, survey) => page.evaluate((name) => fetch(`/api/surveys/${name}/record`).then((r) => r.json()), survey)
