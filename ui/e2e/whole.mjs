// A whole survey through the page, from an empty folder to the report that is handed over: once with the
// keyboard alone at a desk, once with a finger on a tablet, from fewer recordings.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { arrives, isQuiet, RECORDINGS } from './parts/arriving.mjs'
import { accountFor } from './parts/deciding.mjs'
import { sound } from './parts/axe.mjs'
import { finger } from './parts/finger.mjs'
import { found } from './parts/finding.mjs'
import { keyboard } from './parts/keyboard.mjs'
import { handsOver } from './parts/reporting.mjs'
import { walks } from './parts/walking.mjs'

/** How far down the ledger what was planted may stand. */
const FIRST_ROWS = 10
/** What the tablet brings in: the receiver alone, the quay, the two rooms with the most planted in them. */
const FEW = ['01-no-antenna', '02-quay', '06-directors-office', '20-quay-wide', '23-board-room-wide']

export async function run(given) {
  const { page, open, url, demo, check, picture } = given
  const truth = JSON.parse(readFileSync(join(demo, 'recordings/truth.json'), 'utf8'))
  const planted = truth.emitters.filter((one) => one.planted)
  check(planted.length === 5, 'the demonstration plants five transmitters')

  /** Every view is judged once, by day and by night: where it is seen first. */
  const judged = new Set()
  const seen = (at, size) => async (view) => {
    if (judged.has(view)) return picture(`whole-${size}-${view}`, at)
    judged.add(view)
    await sound(at, `whole-${size}-${view}`, check, picture)
  }
  await page.goto(url)
  await survey({ ...given, survey: 'grey-heron', hand: keyboard(page, check), seen: seen(page, 'desk') }, RECORDINGS.map(({ file }) => file), planted)

  const other = await open({ viewport: { width: 1280, height: 800 }, hasTouch: true })
  const hand = await finger(other, other.context(), check)
  await other.goto(url)
  const within = planted.filter((one) => heardIn(truth.visits, one, FEW))
  check(within.length >= 2, `the few recordings hear ${within.length} of what is planted`)
  await survey({ ...given, page: other, survey: 'grey-heron-tablet', hand, seen: seen(other, 'tablet') }, FEW, within)
}

/** Whether one of these recordings listened to an emitter in the room that it is in. */
const heardIn = (visits, { room, centre_hz }, files) => visits.some(({ name, position, listened }) =>
  files.includes(name) && position === room && listened.some(({ low_hz, high_hz }) => low_hz <= centre_hz && centre_hz <= high_hz))

/** From an empty folder to the report. */
async function survey(at, files, planted) {
  await begins(at)
  await briefed(at)
  await walks(at, { floor: 'ground', room: 'Garage', places: ['Reception', 'Accounts', 'Archive'] })
  await arrives(at, join(at.demo, 'recordings'), files)
  await isQuiet(at)
  const rows = await ledgerShows(at, planted)
  await accountFor(at, rows)
  const item = await found(at, rows[0])
  await handsOver(at, item)
}

async function begins({ page, hand, survey, seen }) {
  await page.getByRole('heading', { name: 'Start a survey' }).waitFor()
  await hand.write(page.getByLabel('Code name'), survey)
  await hand.write(page.getByLabel('Technician'), 'R. Alder')
  await hand.choose(page.getByLabel('Region of allocations'), /^CEPT$/)
  await hand.write(page.getByLabel('Time zone'), 'Europe/Dublin')
  await seen('start')
  await hand.press(page.getByRole('button', { name: 'Start' }))
  await page.getByRole('heading', { level: 1, name: 'Survey', exact: true }).waitFor()
}

/** The brief and the right to work. */
async function briefed({ page, hand, seen }) {
  const brief = page.getByRole('region', { name: 'The brief' })
  await hand.press(brief.getByRole('button', { name: 'Write: The brief' }))
  await hand.write(brief.getByLabel('What leaked'), 'The offer for the second berth, word for word.')
  await hand.write(brief.getByLabel('Who could know'), 'The two partners.')
  await hand.write(brief.getByLabel('Who had access'), 'Cleaners at night, the decorator last month.')
  await hand.write(brief.getByLabel('What is feared'), 'voice in the board room')
  await seen('brief')
  await hand.press(brief.getByRole('button', { name: 'Save' }))
  await brief.getByText('The two partners.').waitFor()
  const authority = page.getByRole('region', { name: 'Authority' })
  await hand.press(authority.getByRole('button', { name: 'Add an authority' }))
  await hand.write(authority.getByLabel('Given by'), 'both partners')
  await hand.write(authority.getByLabel('In what right'), 'owners')
  await hand.write(authority.getByLabel('From', { exact: true }), '2026-03-05T16:00:00')
  await hand.write(authority.getByLabel('Until', { exact: true }), '2026-03-06T08:00:00')
  await hand.press(authority.getByRole('button', { name: 'Save' }))
  await authority.getByRole('heading', { name: 'both partners' }).waitFor()
  await authority.getByText('6 Mar 2026 08:00:00').waitFor()
  await seen('survey')
}

/** What was planted stands among the first rows; gives their ids. */
async function ledgerShows({ page, hand, survey, check, seen }, planted) {
  await hand.go('Emissions')
  await page.locator('tr[data-row]').first().waitFor()
  const shown = await page.locator('tr[data-row]').evaluateAll((all) => all.map((one) => one.dataset.row))
  const { ledger } = await page.evaluate((name) => fetch(`/api/surveys/${name}/ledger`).then((r) => r.json()), survey)
  const first = shown.slice(0, FIRST_ROWS).map((id) => ledger.emissions.find((row) => row.id === id))
  await seen('ledger')
  return planted.map((one) => {
    const row = first.find(({ low_hz, high_hz }) => low_hz <= one.centre_hz && one.centre_hz <= high_hz)
    check(row !== undefined, `${one.name} (${one.centre_hz / 1e6} MHz) is not among the first ${FIRST_ROWS} rows`)
    return row.id
  })
}
