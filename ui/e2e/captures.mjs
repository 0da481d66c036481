// From an empty survey: brief and authority are written down, recordings and the log of a hand-held are
// dropped, the log's columns confirmed, all brought in; emissions appear. Reading the page anew in the
// middle, and killing the program, lose nothing that was acknowledged.
import { readFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { sound } from './parts/axe.mjs'
import { add, noise } from './parts/recordings.mjs'

export async function run({ page, url, demo, files, check, picture, wrong, restart }) {
  const given = files ?? ['20-quay-wide.sigmf-data', '20-quay-wide.sigmf-meta', '30-walk.csv'].map((name) => join(demo, 'recordings', name))
  const recording = given.filter((file) => !file.endsWith('.csv'))
  const log = given.filter((file) => file.endsWith('.csv'))
  check(recording.length === 2 && log.length === 1, 'a SigMF recording and a log are wanted')
  const survey = 'dry-dock'
  const get = (path) => page.evaluate((of) => fetch(of).then((r) => r.json()), `/api/surveys/${survey}/${path}`)
  const until = async (what, text, ms = 60_000) => {
    for (const end = Date.now() + ms; Date.now() < end; await page.waitForTimeout(250)) if (await what()) return
    check(false, text)
  }

  await page.goto(url)
  await page.getByLabel('Code name').fill(survey)
  await page.getByLabel('Technician').fill('T. Marsh')
  await page.getByLabel('Region of allocations').selectOption('CEPT')
  await page.getByLabel('Time zone').fill('Europe/Dublin')
  await page.getByRole('button', { name: 'Start' }).click()

  // The brief, typed; another tab writes it meanwhile: that is said, and what was typed is kept.
  const brief = page.getByRole('region', { name: 'The brief' })
  await brief.getByRole('button', { name: 'Write: The brief' }).click()
  await brief.getByLabel('What leaked').fill('Prices of the spring list.')
  await brief.getByLabel('What is feared').fill('voice in the study\na vehicle followed')
  await brief.getByLabel('Who could know').fill('Two partners.')
  await brief.getByLabel('Who had access').fill('Whoever cleans.')
  await brief.getByLabel('Where it was heard').fill('in the park')
  // Half typed, it is asked about before another page is opened over it.
  await page.getByRole('link', { name: 'Journal' }).click()
  const leaving = page.getByRole('dialog', { name: 'Not written down yet' })
  await leaving.waitFor()
  await sound(page, 'leaving-half-typed', check, picture)
  await leaving.getByRole('button', { name: 'Stay here' }).click()
  await leaving.waitFor({ state: 'detached' })
  check((await brief.getByLabel('Where it was heard').inputValue()) === 'in the park', 'what was half typed is lost')
  check(page.url().endsWith('/survey') || page.url().endsWith(survey), `the address says ${page.url()}`)
  const other = await page.context().newPage()
  await other.goto(`${url}#/s/${survey}/survey`)
  const theirs = other.getByRole('region', { name: 'The brief' })
  await theirs.getByRole('button', { name: 'Write: The brief' }).click()
  for (const label of ['What leaked', 'What is feared', 'Who could know', 'Who had access']) await theirs.getByLabel(label).fill(`of the other: ${label}`)
  await theirs.getByRole('button', { name: 'Save' }).click()
  await theirs.getByRole('button', { name: 'Edit: The brief' }).waitFor()
  await other.close()
  await brief.getByRole('button', { name: 'Save' }).click()
  await brief.getByText('Changed meanwhile').waitFor()
  await brief.getByText('of the other: What leaked').waitFor()
  await picture('brief-changed-meanwhile')
  await brief.getByRole('button', { name: 'Save' }).click()
  await brief.getByText('Prices of the spring list.').waitFor()
  check((await get('record')).brief.feared.length === 2, 'what is feared is not kept line by line')
  wrong.length = 0

  const authority = page.getByRole('region', { name: 'Authority' })
  await authority.getByRole('button', { name: 'Add an authority' }).click()
  await authority.getByLabel('Given by').fill('the owner of the firm')
  await authority.getByLabel('In what right').fill('owner')
  // A time that the clocks skip is refused in words; of one that comes twice it is asked which (Dublin, 2026).
  const from = authority.getByRole('textbox', { name: 'From' })
  await from.fill('2026-03-29 01:30')
  await authority.getByText('did not happen in Europe/Dublin').waitFor()
  await authority.getByRole('button', { name: 'Save' }).click()
  check((await get('record')).authority.length === 0, 'a time that did not happen is written')
  await from.fill('2026-10-25 01:30')
  await authority.getByText('happened twice in Europe/Dublin').waitFor()
  await authority.getByRole('button', { name: 'Save' }).click()
  check((await get('record')).authority.length === 0, 'one of two times is taken unasked')
  await sound(page, 'time-comes-twice', check, picture)
  await authority.getByRole('button', { name: 'The second, +00:00' }).click()
  check((await from.inputValue()) === '2026-10-25 01:30:00 +00:00', `it reads ${await from.inputValue()}`)
  await from.fill('2026-03-05T16:00:00')
  await authority.getByLabel('Until', { exact: true }).fill('2026-03-05T19:00:00')
  await authority.getByRole('button', { name: 'Save' }).click()
  await authority.getByRole('heading', { name: 'the owner of the firm' }).waitFor()
  check((await get('record')).authority[0].from === '2026-03-05T16:00:00Z', 'the time is not kept in the survey’s time zone')

  // Dropped, as from a folder.
  await page.goto(`${url}#/s/${survey}/captures`)
  await page.getByText('Bring first').waitFor()
  await picture('captures-nothing-yet')
  await drop(page, recording)
  await until(async () => (await get('uploads')).some((one) => one.files.length === 2), 'the recording does not come whole')
  await page.getByText('IQ recording').first().waitFor()

  // Read anew between sending and bringing in: what came whole is still there.
  await page.reload()
  await page.getByText(recording.map((file) => basename(file)).sort().join(' + ')).waitFor()
  await page.getByRole('radio', { name: /Reference/ }).check()
  await page.getByLabel('Position').fill('Quay')
  await page.getByLabel('Zone of the new position').selectOption('outside')
  await page.getByLabel('Chain').fill('wide recorder')
  await page.getByLabel('Gain ahead of the converter').fill('23')
  await picture('captures-what-came')
  await page.getByRole('button', { name: 'Bring it in' }).click()
  await until(async () => (await get('captures')).length === 1, 'the recording is not acknowledged')

  // Killed while it is analysed: what was acknowledged stands, and is analysed after.
  await restart()
  await page.reload()
  await page.getByRole('link', { name: 'C1', exact: true }).waitFor()
  await until(async () => {
    const standing = await get('ledger')
    return standing.waiting === 0 && standing.ledger.emissions.length > 0
  }, 'no emission appears after the program was killed', 120_000)

  // The log of a hand-held, whose columns a person confirms.
  await page.goto(`${url}#/s/${survey}/captures`)
  await drop(page, log)
  await page.getByRole('button', { name: 'Confirm its columns' }).click()
  const mapping = page.getByRole('dialog')
  // How many steps the scale has is a guess: it does not stand as an answer, a person says it.
  const steps = mapping.getByLabel(/^Steps of the scale/)
  check((await steps.inputValue()) === '' && (await mapping.getByRole('button', { name: 'This is right' }).isDisabled()), 'a guessed scale can be confirmed')
  await mapping.getByText('The steps of the detector’s scale are not said').waitFor()
  await sound(page, 'captures-scale-asked', check, picture)
  await steps.fill('12')
  await mapping.getByText('As understood').waitFor()
  await mapping.getByLabel('Save this mapping as').fill('hand-held')
  await mapping.getByRole('button', { name: 'Save', exact: true }).click()
  await until(async () => (await get('record')).mappings.length === 1, 'the mapping is not saved')
  await picture('captures-mapping')
  await mapping.getByRole('button', { name: 'This is right' }).click()
  await page.getByRole('radio', { name: /Walk/ }).check()
  await page.getByLabel('Chain').fill('hand-held')
  await page.getByRole('button', { name: 'Add a movement' }).click()
  const movement = page.getByRole('form', { name: 'Add a movement' })
  await movement.getByLabel('Position').selectOption('Quay')
  await movement.getByLabel('Arrived').fill('2026-03-05T19:50:00')
  await movement.getByRole('button', { name: 'Save' }).click()
  await page.getByRole('button', { name: 'Edit the arrival at Quay' }).waitFor()
  // A whole walk as a table: all of it or nothing, and what is wrong is named by its line.
  const table = (lines) => page.getByLabel('Table of movements').setInputFiles(
    { name: 'walk.csv', mimeType: 'text/csv', buffer: Buffer.from(`Arrived,Position\n${lines}`) })
  await table('2026-03-05T19:40,Quay\nsoon,Quay\n')
  await page.getByRole('alert').getByText('line 3').waitFor()
  check((await get('record')).movements.length === 1, 'half a table was taken')
  wrong.length = 0
  await table('2026-03-05T19:40,Quay\n2026-03-05T19:45:30,Quay\n')
  await until(async () => (await get('record')).movements.length === 3, 'the table is not taken')
  await page.getByRole('alert').waitFor({ state: 'detached' })
  await picture('captures-movements')
  await page.getByLabel('Bands listened to').fill('130–180 MHz, 380–470 MHz, 880–915 MHz')
  await page.getByRole('button', { name: 'Bring it in' }).click()
  await page.getByRole('link', { name: 'C2', exact: true }).waitFor()
  await until(async () => {
    const { waiting, ledger } = await get('ledger')
    return waiting === 0 && ledger.emissions.some((row) => row.receptions.some((one) => one.capture.startsWith('C2') && one.heard))
  }, 'nothing of the log comes into the ledger', 120_000)

  // Beyond the authority: flagged where it stands, and first on the survey's page.
  await page.getByText('outside the authorised time').first().waitFor()
  await picture('captures-recorded')
  await page.goto(`${url}#/s/${survey}/survey`)
  await page.getByText('Outside the authority.').waitFor()

  // Thrown away only when a person says so; what is said of what came is kept by itself.
  await page.goto(`${url}#/s/${survey}/captures/C1`)
  await page.getByLabel('Reason').fill('half typed')
  await page.keyboard.press('Tab')
  await page.keyboard.press('Tab')
  await page.keyboard.press('8')
  await page.getByRole('dialog', { name: 'Not written down yet' }).getByRole('button', { name: 'Leave it' }).click()
  await page.getByRole('heading', { level: 1, name: 'Journal' }).waitFor()

  // Corrected in place; set aside with a reason, and taken back through the journal.
  await page.goto(`${url}#/s/${survey}/captures/C1`)
  await page.getByRole('button', { name: 'Correct' }).click()
  const correct = page.getByRole('form', { name: 'Correct C1' })
  await correct.getByLabel('Condition').fill('empty')
  await correct.getByLabel('Add to its times').fill('-2,5')
  await correct.getByRole('button', { name: 'Save' }).click()
  await page.getByText('Clock corrected by').waitFor()
  const corrected = (await get('captures')).find((one) => one.id === 'C1')
  check(corrected.clock_s === -2.5 && corrected.condition === 'empty', 'the correction is not kept')
  await page.getByLabel('Reason').fill('the antenna was loose')
  await page.getByRole('button', { name: 'Set aside' }).click()
  await page.getByText('Set aside: the antenna was loose').waitFor()
  await page.goto(`${url}#/s/${survey}/journal`)
  // It is asked once, with what will be taken back.
  await page.getByRole('button', { name: /^Take back entry/ }).first().click()
  await page.getByRole('dialog').getByText('set aside: the antenna was loose').waitFor()
  check((await get('captures')).find((one) => one.id === 'C1').set_aside !== null, 'it is taken back unasked')
  await page.getByRole('button', { name: 'Take it back' }).click()
  await page.getByText('was taken back, by entry').waitFor()
  check((await get('captures')).find((one) => one.id === 'C1').set_aside === null, 'it is not taken back')
  await page.getByRole('button', { name: 'Verify evidence and journal' }).click()
  await page.getByText('Nothing is altered or missing.').waitFor()
  await picture('journal')

  // A recording that states no time is in no lane of the timeline: that is told, with where it is mended.
  await add(url, survey, { name: 'undated', rails: noise(2 * 48_000, 90), rateHz: 48_000, centreHz: 433.92e6, role: 'room', at: 'Study' })
  await until(async () => (await get('ledger')).waiting === 0, 'the recording without a time is not analysed', 120_000)
  await page.goto(`${url}#/s/${survey}/timeline`)
  await page.getByText('Not here, having no time').waitFor()
  await picture('timeline-without-a-time')
  await page.getByRole('note').getByRole('link', { name: 'C3' }).click()
  const dated = page.getByRole('form', { name: 'Correct C3' })
  await dated.getByLabel('Start').fill('2026-03-05 21:30')
  await dated.getByRole('button', { name: 'Save' }).click()
  await dated.waitFor({ state: 'detached' })
  check((await get('captures')).find((one) => one.id === 'C3').start === '2026-03-05T21:30:00Z', 'the start is not corrected')
  await page.goto(`${url}#/s/${survey}/timeline`)
  await page.getByText('Study', { exact: false }).first().waitFor()
  check((await page.getByText('Not here, having no time').count()) === 0, 'the timeline does not take the corrected start')
  // And taken back: what the file states counts again, which is nothing.
  await page.goto(`${url}#/s/${survey}/captures/C3`)
  await page.getByRole('button', { name: 'Correct' }).click()
  await dated.getByLabel('Start').fill('')
  await dated.getByRole('button', { name: 'Save' }).click()
  await dated.waitFor({ state: 'detached' })
  check((await get('captures')).find((one) => one.id === 'C3').start === null, 'the start is not taken back')
  const rows = (await get('ledger')).ledger.emissions.length
  check(rows > 0, 'no emission is left')
}

/** Drops files on the page as a person does, bytes and all. */
async function drop(page, files) {
  const bytes = files.map((file) => ({ name: basename(file), text: readFileSync(file).toString('base64') }))
  const transfer = await page.evaluateHandle(async (all) => {
    const data = new DataTransfer()
    for (const { name, text } of all) {
      const answer = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0))
      data.items.add(new File([answer], name))
    }
    return data
  }, bytes)
  await page.dispatchEvent('main', 'drop', { dataTransfer: transfer })
}
