// The premises: a floor and a room drawn, a position made in it, a reading, a remark and an arrival noted
// there, once with a mouse and once with a finger; what the program acknowledged outlives its being killed
// and the page's being read anew. Then a walk typed in, from the keyboard alone.

import { sound as judgedInBothLights } from './parts/axe.mjs'
import { finger } from './parts/finger.mjs'

export async function run({ page, context, url, survey, check, picture, restart }) {
  const record = () => page.evaluate(async (name) => (await fetch(`/api/surveys/${name}/record`)).json(), survey)
  const aside = page.locator('aside')
  const button = (name, exact = true) => aside.getByRole('button', { name, exact })
  const plan = page.locator('svg[role=application]')

  const sound = (view) => judgedInBothLights(page, `premises-${view}`, check, picture)

  const mouse = { press: (what) => what.click(), at: (x, y) => page.mouse.click(x, y) }

  async function walk(hand, floor, room) {
    await page.goto(`${url}#/s/${survey}/premises/draw`)
    await hand.press(button('Add a floor'))
    await aside.getByLabel('Name').fill(floor)
    await hand.press(button('Write it down'))
    await page.getByRole('button', { name: floor, exact: true, pressed: true }).waitFor()
    await hand.press(button('Draw a room'))
    const box = await plan.boundingBox()
    for (const [x, y] of [[0.25, 0.75], [0.75, 0.75], [0.75, 0.3], [0.25, 0.3], [0.25, 0.75]]) {
      await hand.at(box.x + box.width * x, box.y + box.height * y)
    }
    await aside.getByText('m²').waitFor()
    await sound(`room-${floor}`)
    await aside.getByLabel('Name').fill(room)
    await hand.press(button('Write it down'))
    await button(`Change ${room}`).waitFor()

    await page.goto(`${url}#/s/${survey}/premises`)
    const drawn = await page.locator('polygon.room').boundingBox()
    await hand.at(drawn.x + drawn.width / 2, drawn.y + drawn.height / 2)
    await button('Make this position').waitFor()
    check((await aside.getByLabel('Room').inputValue()) === room, 'the room that it lies in is not proposed')
    await hand.press(button('Arrived here'))
    await aside.getByText(/^Arrived noted at/).waitFor()
    await hand.press(button('Reading'))
    await hand.press(button('380–470 MHz'))
    for (let step = 0; step < 3; step++) await hand.press(button('One step more'))
    await aside.getByLabel('What was heard').fill('hum')
    await sound(`reading-${floor}`)
    await hand.press(button('Note the reading'))
    await aside.getByText(/^Reading noted at/).waitFor()
    await hand.press(button('Remark'))
    await hand.press(button('door opened'))
    await aside.getByText(/^Remark noted at/).waitFor()
  }

  async function stands(floor, room) {
    const said = await record()
    const drawn = said.rooms.find((one) => one.name === room)
    check(drawn?.floor === floor && drawn.corners_m.length === 4, `room ${room} is ${JSON.stringify(drawn)}`)
    const at = said.positions.find((one) => one.room === room)
    check(at?.floor === floor && at.zone === 'inside', `its position is ${JSON.stringify(at)}`)
    const reading = said.readings.find((one) => one.position === at.id)
    check(reading?.strength.value === 3 && reading.strength.of === 12, `the reading is ${JSON.stringify(reading)}`)
    check(reading.heard === 'hum' && reading.band.low_hz === 380e6 && reading.chain === 'hand-held', 'the reading lost a part')
    check(said.remarks.some((one) => one.position === at.id && one.text === 'door opened'), 'the remark is lost')
    check(said.movements.some((one) => one.position === at.id), 'the arrival is lost')
  }

  await walk(mouse, 'attic', 'Loft')
  // A paced script, short: each on-period is a stimulus of its length.
  await button('Stimulus').click()
  for (const [label, value] of [['On, s', '1'], ['Off, s', '2'], ['Times', '2']]) await aside.getByLabel(label, { exact: true }).fill(value)
  await aside.getByRole('button', { name: /^Start the script/ }).click()
  // It goes on while other pages are opened, and prompts on them.
  await page.keyboard.press('5')
  await page.getByRole('heading', { name: 'Emissions' }).waitFor()
  const prompt = page.getByRole('region', { name: 'Paced stimulus' })
  await prompt.getByText('Off', { exact: true }).waitFor()
  await picture('paced-elsewhere')
  await page.keyboard.press('8')
  await page.getByRole('heading', { name: 'Journal' }).waitFor()
  await prompt.getByText('2 of 2').waitFor()
  await prompt.getByText('Done', { exact: true }).waitFor()
  await sound('paced-done')
  await prompt.getByRole('link', { name: 'Show it large' }).click()
  await page.getByRole('status').getByText('Done', { exact: true }).waitFor()
  await page.getByRole('button', { name: 'Back to the plan' }).click()
  const paced = (await record()).stimuli.filter((one) => one.what === 'music')
  check(paced.length === 2 && paced.every((one) => Math.abs(Date.parse(one.until) - Date.parse(one.from) - 1000) < 600), `paced: ${JSON.stringify(paced)}`)
  await page.setViewportSize({ width: 1280, height: 800 })
  const touch = await context.newCDPSession(page)
  await touch.send('Emulation.setTouchEmulationEnabled', { enabled: true })
  await walk(await finger(page, context, check), 'cellar', 'Vault')
  await touch.send('Emulation.setTouchEmulationEnabled', { enabled: false })

  await restart()
  await page.reload()
  await page.getByRole('heading', { name: 'Premises' }).waitFor()
  await stands('attic', 'Loft')
  await stands('cellar', 'Vault')

  await page.goto(`${url}#/s/${survey}/premises/levels`)
  await aside.getByRole('heading', { name: 'By attention' }).waitFor()
  await sound('levels')
  const first = await aside.getByRole('heading', { level: 2 }).last().textContent()
  await page.locator('body').press('j')
  await page.waitForFunction((before) => [...document.querySelectorAll('aside h2')].at(-1)?.textContent !== before, first)

  await page.goto(`${url}#/s/${survey}/premises/grid`)
  await page.getByLabel('Position, row 1', { exact: true }).focus()
  for (const cell of ['Vault', '23:50', 'E1', '-61.5 dBm', '270', 'clicks']) {
    await page.keyboard.type(cell)
    await page.keyboard.press('Tab')
  }
  await page.keyboard.press('Tab')
  for (const cell of ['Vault', '0:10', '433.92 MHz', '13/12']) {
    await page.keyboard.type(cell)
    await page.keyboard.press('Tab')
  }
  const day = await page.getByLabel('Day of the first row').inputValue()
  await page.getByRole('button', { name: 'Write down 2 rows' }).press('Enter')
  await page.getByText('1 row written down, 1 not: mend them and send again.').waitFor()
  await page.getByText("'13/12' is no strength").waitFor()
  await page.reload()
  await page.getByLabel('Strength or level, row 2', { exact: true }).fill('12/12')
  await page.getByRole('button', { name: 'Write down 1 row' }).press('Enter')
  await page.getByText('1 row written down.').waitFor()
  await sound('grid')
  const said = await record()
  const [late, early] = [said.readings.find((one) => one.heard === 'clicks'), said.readings.find((one) => one.strength?.value === 12)]
  check(late?.emission === 'E1' && late.level_dbm === -61.5 && late.bearing_deg === 270, `the first row is ${JSON.stringify(late)}`)
  check(Date.parse(early.at) - Date.parse(late.at) === 20 * 60e3, `ten past midnight of ${day} is ${early?.at}`)

  await page.goto(`${url}#/s/${survey}/premises/walk`)
  await sound('walk')
  await page.emulateMedia({ media: 'print' })
  check(await page.getByRole('columnheader', { name: /^Bearing/ }).first().isVisible(), 'the sheet has no column for bearings')
  check(await page.getByRole('cell', { name: /^Vault/ }).first().isVisible(), 'the sheet lacks a position')
  check(!(await page.getByRole('button', { name: 'Print' }).isVisible()), 'the sheet prints its buttons')
  await page.emulateMedia({ media: null })
}
