// Sending is broken off: the page is read anew in the middle, then the program is killed in the middle.
// What was acknowledged stands, what came whole stays with the program; the rest is asked for again by name,
// or sent again by the page itself.
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { sound } from './parts/axe.mjs'

/** Slow enough to be broken off: bytes a second. */
const SLOW = 4e6

export async function run({ page, context, url, demo, check, picture, wrong, restart }) {
  const survey = 'slow-tide'
  const file = (name) => join(demo, 'recordings', name)
  const both = (name) => [file(`${name}.sigmf-meta`), file(`${name}.sigmf-data`)]
  const get = (path) => page.evaluate((of) => fetch(of).then((r) => r.json()), `/api/surveys/${survey}/${path}`)
  const until = async (what, text, ms = 60_000) => {
    for (const end = Date.now() + ms; Date.now() < end; await page.waitForTimeout(200)) if (await what().catch(() => false)) return
    check(false, text)
  }
  const cdp = await context.newCDPSession(page)
  await cdp.send('Network.enable')
  const speed = (bytes) => cdp.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: bytes })
  /** Dropped as from a folder: the browser itself reads the files. */
  async function drop(files) {
    const data = { items: [], files, dragOperationsMask: 1 }
    for (const type of ['dragEnter', 'dragOver', 'drop']) await cdp.send('Input.dispatchDragEvent', { type, x: 400, y: 300, data })
  }
  const came = page.getByRole('region', { name: 'What came' })
  const lost = page.getByRole('region', { name: 'To be dropped again' })
  async function bring(name, role, at) {
    for (const box of await came.getByRole('checkbox', { name: /^Bring in/, disabled: false }).all()) {
      await box.setChecked((await box.locator('xpath=..').textContent()).includes(`Bring in ${name}`))
    }
    await came.getByRole('radio', { name: role }).check()
    await came.getByLabel(/^Position/).fill(at)
    await came.getByLabel(/^Chain/).fill('stepper')
    await came.getByRole('button', { name: 'Bring it in' }).click()
  }

  await page.goto(url)
  await page.getByLabel('Code name').fill(survey)
  await page.getByLabel('Region of allocations').selectOption('CEPT')
  await page.getByRole('button', { name: 'Start' }).click()
  await page.getByRole('heading', { level: 1, name: 'Survey', exact: true }).waitFor()
  await page.goto(`${url}#/s/${survey}/captures`)
  await page.getByText('Bring first').waitFor()

  // One comes whole, the next is on its way, a third waits: the page is read anew.
  await drop(both('20-quay-wide'))
  await until(async () => (await get('uploads')).some((one) => one.files.length === 2), 'the first does not come whole')
  await speed(SLOW)
  await drop([...both('02-quay'), ...both('04-reception')])
  await came.getByText(/^sent [1-9]/).first().waitFor()
  await page.reload()
  await lost.waitFor()
  const named = await lost.getByRole('listitem').allTextContents()
  check(named.some((text) => text.startsWith('02-quay.sigmf-data')) && named.some((text) => text.startsWith('04-reception.sigmf-data')), `to be dropped again: ${named}`)
  check(!named.some((text) => text.includes('20-quay-wide')), 'what came whole is asked for again')
  await came.getByText('20-quay-wide.sigmf-data + 20-quay-wide.sigmf-meta').waitFor()
  const held = (await get('uploads')).flatMap((one) => one.files.map(({ name }) => name))
  check(!held.includes('02-quay.sigmf-data'), 'the program holds a part')
  await sound(page, 'broken-reload', check, picture)
  // Dropped again it is whole, together with what had come of it.
  await drop(named.map((text) => file(text.split(' ')[0])))
  await lost.waitFor({ state: 'detached' })
  await came.getByText(/^sent [1-9]/).first().waitFor()

  // The first is brought in meanwhile, and acknowledged; then the program is killed while the rest is sent.
  await bring('20-quay-wide', /^Reference/, 'Quay')
  await until(async () => (await get('captures')).length === 1, 'the first is not acknowledged')
  await restart()
  await speed(-1)
  wrong.length = 0
  // What came whole before this page was read anew is with the program; the rest is sent without a hand, from
  // the files that the page has still.
  await until(async () => {
    const all = (await get('uploads')).filter((one) => one.files.length === 2).flatMap((one) => one.files.map(({ name }) => name))
    return all.includes('02-quay.sigmf-data') && all.includes('04-reception.sigmf-data')
  }, 'what was broken off is not sent again', 90_000)
  check((await get('captures')).length === 1, 'what was acknowledged is lost')
  check((await lost.count()) === 0, 'something is asked for that is at hand')
  await picture('broken-killed')
  await bring('04-reception', /^Room/, 'Reception')
  await until(async () => (await get('captures')).length === 2, 'what was sent again is not brought in')

  // Read anew, then killed, twice: the program has it whole, and nobody is asked for it.
  await until(async () => (await get('uploads')).length === 1, 'what was brought in is still held')
  const [before] = await get('uploads')
  for (let n = 0; n < 2; n++) {
    await page.reload()
    await came.getByText('02-quay.sigmf-data + 02-quay.sigmf-meta').waitFor()
    await restart()
  }
  await until(async () => JSON.stringify(await get('uploads')) === JSON.stringify([before]), 'what came whole is lost')
  await bring('02-quay', /^Reference/, 'Quay')
  await until(async () => (await get('captures')).length === 3, 'what outlived the program is not brought in')
  check((await lost.count()) === 0, 'something is asked for that the program has')
  check((await get('uploads')).length === 0, 'what was brought in is still held')
  wrong.length = 0

  // What is kept is what was dropped, to the byte.
  await until(async () => (await get('ledger')).waiting === 0, 'what was acknowledged is not analysed', 120_000)
  const kept = (await get('captures')).flatMap((one) => one.files)
  for (const path of [...both('20-quay-wide'), ...both('04-reception'), ...both('02-quay')]) {
    const hash = createHash('sha256').update(readFileSync(path)).digest('hex')
    check(kept.some((one) => one.name === basename(path) && one.sha256 === hash), `${basename(path)} is not kept as it was`)
  }
  wrong.length = 0
}
