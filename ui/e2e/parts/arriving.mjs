// What was recorded is brought in through the page: recordings one after the other, then the log of a
// hand-held, whose columns a person confirms and whose movements are noted.
import { join } from 'node:path'

/** Those of the demonstration's recordings that hear what is planted, and what they are compared with. */
export const RECORDINGS = [
  { file: '01-no-antenna', role: 'No antenna', chain: 'stepper', gain: '12' },
  { file: '02-quay', role: 'Reference', at: 'Quay', zone: /^outside/, chain: 'stepper', gain: '12' },
  { file: '03-corridor', role: 'Reference', at: 'Corridor', zone: /^adjacent/, chain: 'stepper', gain: '12' },
  { file: '06-directors-office', role: 'Room', at: "Director's office", zone: /^inside/, chain: 'stepper', gain: '12', condition: 'empty' },
  { file: '09-meeting-corner-talk', role: 'Room', at: 'Meeting corner', zone: /^inside/, chain: 'stepper', gain: '12', condition: 'known sound' },
  { file: '10-board-room-meeting', role: 'Room', at: 'Board room', zone: /^inside/, chain: 'stepper', gain: '12', condition: 'meeting' },
  { file: '20-quay-wide', role: 'Reference', at: 'Quay', chain: 'wide recorder', gain: '23' },
  { file: '23-board-room-wide', role: 'Room', at: 'Board room', chain: 'wide recorder', gain: '23', condition: 'meeting' },
]
const BANDS = '130–180 MHz, 380–470 MHz, 832–862 MHz, 880–915 MHz, 1710–1785 MHz, 1880–1900 MHz, 2400–2483.5 MHz'
/** As `30-walk-movements.csv` notes them. */
const MOVEMENTS = [
  ['Quay', '2026-03-05T19:50:00'], ['Reception', '2026-03-05T20:20:00'], ["Director's office", '2026-03-05T20:40:00'],
  ['Accounts', '2026-03-05T21:00:00'], ['Garage', '2026-03-05T21:25:00'], ['Archive', '2026-03-05T22:10:00'],
]

export async function arrives({ page, hand, survey, check, seen }, folder, files) {
  const brought = RECORDINGS.filter(({ file }) => files.includes(file))
  const captures = () => page.evaluate((name) => fetch(`/api/surveys/${name}/captures`).then((r) => r.json()), survey)
  const kept = async (count) => {
    for (const end = Date.now() + 60_000; Date.now() < end; await page.waitForTimeout(100)) if ((await captures()).length === count) return
    check(false, `${count} captures are not acknowledged`)
  }
  const came = page.getByRole('region', { name: 'What came' })
  const say = (label, text = '') => hand.write(came.getByLabel(label), text)

  await hand.go('Captures')
  for (const [i, { file, role, at, zone, chain, gain, condition }] of brought.entries()) {
    await hand.files(page.getByRole('button', { name: 'Choose files' }), [join(folder, `${file}.sigmf-data`), join(folder, `${file}.sigmf-meta`)], i > 0 ? 'i' : undefined)
    // What it is moves the form down once more when it comes.
    await came.getByRole('listitem').filter({ hasText: `${file}.sigmf` }).getByText(/IQ recording/).waitFor()
    await hand.pick(came.getByRole('radio', { name: new RegExp(`^${role}`) }))
    if (at) await say(/^Position/, at)
    else check((await came.getByLabel(/^Position/).count()) === 0, 'a position is asked for where none is meant')
    await say(/^Chain/, chain)
    if (zone) await hand.choose(came.getByLabel('Zone of the new position'), zone)
    await say('Gain ahead of the converter', gain)
    await say(/^Condition/, condition)
    if (i === 1) await seen('recording')
    const bring = came.getByRole('button', { name: 'Bring it in' })
    await page.waitForFunction((button) => !button.disabled, await bring.elementHandle())
    await hand.press(bring)
    await page.waitForFunction((button) => button.disabled || !button.isConnected, await bring.elementHandle())
  }

  await hand.files(page.getByRole('button', { name: 'Choose files' }), [join(folder, '30-walk.csv')], 'i')
  await hand.press(came.getByRole('button', { name: 'Confirm its columns' }))
  const mapping = page.getByRole('dialog')
  await hand.write(mapping.getByLabel(/^Steps of the scale/), '12')
  await mapping.getByText('As understood').waitFor()
  await seen('columns')
  await hand.press(mapping.getByRole('button', { name: 'This is right' }))
  await mapping.waitFor({ state: 'detached' })
  await hand.pick(came.getByRole('radio', { name: /^Walk/ }))
  await say(/^Chain/, 'hand-held')
  await say('Gain ahead of the converter')
  await say(/^Condition/)
  await say(/^Listened from/, '2026-03-05T19:50:00')
  await say(/^Listened until/, '2026-03-05T22:30:00')
  await say(/^Bands listened to/, BANDS)
  for (const [position, arrived] of MOVEMENTS) {
    await hand.press(page.getByRole('button', { name: 'Add a movement' }))
    const form = page.getByRole('form', { name: 'Add a movement' })
    await hand.choose(form.getByLabel('Position'), new RegExp(`^${position}$`))
    await hand.write(form.getByLabel('Arrived'), arrived)
    await hand.press(form.getByRole('button', { name: 'Save' }))
    await page.getByRole('button', { name: `Edit the arrival at ${position}` }).waitFor()
  }
  await seen('movements')
  await hand.press(came.getByRole('button', { name: 'Bring it in' }))
  await kept(brought.length + 1)
}

/** Waits until all is analysed and nothing runs. */
export async function isQuiet({ page, survey, check }) {
  const get = (path) => page.evaluate((of) => fetch(of).then((r) => r.json()), `/api/surveys/${survey}/${path}`)
  for (const end = Date.now() + 150_000; Date.now() < end; await page.waitForTimeout(500)) {
    if ((await get('jobs')).some((job) => job.state === 'running')) continue
    if ((await get('ledger')).waiting === 0) return
  }
  check(false, 'what was brought in is not analysed')
}
