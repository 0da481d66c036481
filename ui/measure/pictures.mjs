// Pictures of every page, from the demonstration's survey: by day and by night, on a desk and on a tablet.
// Writes docs/pictures/pages/NAME-{desk,tablet}-{day,night}.webp, which docs/pages.md shows.
//
//   node measure/pictures.mjs [--program FILE] [--demo DIR] [--dist DIR] [--only NAME,…] [--out DIR]
//
// `--demo` is a demonstration that was made before, `--dist` a page built since the program was.
import { cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { chromium } from 'playwright-core'
import { demonstration, fromFolder, serve } from '../program.mjs'

const here = dirname(fileURLToPath(import.meta.url))
const { values } = parseArgs({
  options: {
    program: { type: 'string', default: join(here, '../../target/release/stillroom') },
    demo: { type: 'string' },
    dist: { type: 'string' },
    only: { type: 'string' },
    out: { type: 'string', default: join(here, '../../docs/pictures/pages') },
  },
})
const program = resolve(values.program)
const work = mkdtempSync(join(tmpdir(), 'pictures-'))
const surveys = join(work, 'surveys')
mkdirSync(surveys)
cpSync(demonstration(program, values.demo, work).survey, join(surveys, 'quay'), { recursive: true })

const server = await serve(program, ['--surveys', surveys])
// Whatever happens, the program does not stay.
process.on('exit', server.interrupt)
const asked = async (path, init = {}) => {
  const answer = await fetch(new URL(`/api/surveys/quay/${path}`, server.address), init)
  if (!answer.ok) throw new Error(`${path}: ${await answer.text()}`)
  return answer.json()
}
await decideSome()
await reported()
const { ledger } = await asked('ledger')
const byRank = ledger.emissions.toSorted((a, b) => a.attention.rank - b.attention.rank)
const iq = new Set(ledger.captures.filter((one) => one.kind === 'iq').map((one) => one.id))
const first = byRank.find((one) => one.receptions.some((r) => r.heard && iq.has(r.capture)))
const bursty = byRank.find((one) => one.shape === 'bursts' && one.bursts.count > 20 && one.receptions.some((r) => r.heard && iq.has(r.capture)))
const seenIn = first.receptions.find((one) => one.heard && iq.has(one.capture)).capture

/** Name, address, and what is pressed there. */
const PAGES = [
  ['surveys', '#/'],
  ['survey', '#/s/quay/survey'],
  ['premises', '#/s/quay/premises'],
  ['levels', `#/s/quay/premises/levels?row=${bursty.id}`],
  ['captures', '#/s/quay/captures'],
  ['spectrum', `#/s/quay/spectrum/${seenIn}`],
  ['spectrum-close', `#/s/quay/spectrum/${seenIn}?emission=${first.id}`],
  ['emissions', '#/s/quay/emissions'],
  ['emission', `#/s/quay/emissions/${first.id}`],
  ['emission-spectrum', `#/s/quay/emissions/${bursty.id}`, (page) => from(page, 'Spectrum')],
  ['emission-reasons', `#/s/quay/emissions/${first.id}`, (page) => from(page, 'Why it deserves a look, or not')],
  ['decide', `#/s/quay/emissions/${byRank.find((one) => one.decision.state === 'open').id}`, (page) => page.keyboard.press('a')],
  ['timeline', '#/s/quay/timeline'],
  ['coverage', '#/s/quay/coverage'],
  ['journal', '#/s/quay/journal'],
  ['report', '#/s/quay/report'],
  // Last: it writes.
  ['found', '#/s/quay/survey', (page) => page.keyboard.press('!')],
]
const SCREENS = { desk: { width: 1440, height: 900 }, tablet: { width: 1280, height: 800 } }
const wanted = PAGES.filter(([name]) => !values.only || values.only.split(',').includes(name))

mkdirSync(values.out, { recursive: true })
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium' })
const encoder = await (await browser.newContext()).newPage()
const lights = Object.entries(SCREENS).flatMap(([screen, viewport]) => ['day', 'night'].map((light) => ({ screen, viewport, light })))
for (const pages of [wanted.filter(([name]) => name !== 'found'), wanted.filter(([name]) => name === 'found')]) {
  for (const { screen, viewport, light } of lights) {
    const context = await browser.newContext({
      viewport, colorScheme: light === 'night' ? 'dark' : 'light', hasTouch: screen === 'tablet', locale: 'en-GB', timezoneId: 'Europe/Dublin', reducedMotion: 'reduce',
    })
    if (values.dist) await fromFolder(context, values.dist)
    for (const [name, address, act] of pages) {
      const page = await context.newPage()
      await page.goto(new URL(address, server.address).href)
      await rests(page)
      if (act) {
        await act(page)
        await page.waitForTimeout(500)
      }
      const file = join(values.out, `${name}-${screen}-${light}.webp`)
      writeFileSync(file, await webp(await page.screenshot()))
      await page.close()
    }
    await context.close()
  }
}
await browser.close()
await server.stop()
rmSync(work, { recursive: true, force: true })

/** Some rows as a technician would leave them in the night: two suspect, what is plain accounted. */
async function decideSome() {
  const { ledger } = await asked('ledger')
  const open = ledger.emissions.filter((row) => row.decision.state === 'open').toSorted((a, b) => a.attention.rank - b.attention.rank)
  const own = open.filter((row) => row.receiver_line)
  const outside = open.filter((row) => !row.receiver_line && (row.origin.excess_db ?? 0) < -6)
  const decide = async (rows, verdict) => {
    if (rows.length === 0) return
    const { ledger: now } = await asked('ledger')
    await asked('decisions', { method: 'POST', headers: { 'content-type': 'application/json', 'if-match': `"${now.version}"` }, body: JSON.stringify({ ids: rows.map((row) => row.id), ...verdict }) })
  }
  for (const row of open.slice(0, 2)) await decide([row], { state: 'suspect', reason: row.attention.reasons[0].text })
  await decide(own, { state: 'accounted', ground: 'receiver-own', reason: 'there with no antenna connected' })
  await decide(outside, { state: 'accounted', ground: 'stronger-outside', reason: 'louder at the quay than in any room' })
}

/** The report is made once, so that its page shows it. */
async function reported() {
  const { id } = await asked('report', { method: 'POST' })
  while ((await asked(`jobs/${id}`)).state === 'running') await new Promise((wait) => setTimeout(wait, 200))
}

/** Scrolls so that a heading is on top. */
function from(page, name) {
  return page.getByRole('heading', { name, exact: true }).evaluate((it) => it.scrollIntoView({ block: 'start' }))
}

/** Waits until nothing is asked for any more and every plot has what it shows. */
async function rests(page) {
  await page.locator('h1').first().waitFor({ state: 'attached' })
  await page.waitForFunction(() => !document.body.textContent.includes('Reading…'))
  await page.waitForTimeout(600)
  await page.waitForFunction(() => [...document.querySelectorAll('.plot')].every((plot) => plot.dataset.stays === 'true'))
  let before = -1
  for (let turn = 0; turn < 20; turn++) {
    const asked = await page.evaluate(() => performance.getEntriesByType('resource').length)
    if (asked === before) break
    before = asked
    await page.waitForTimeout(700)
  }
}

/** A picture in the smaller format, made by the browser itself. */
async function webp(png) {
  const text = await encoder.evaluate(async (data) => {
    const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0))
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }))
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height)
    canvas.getContext('2d').drawImage(bitmap, 0, 0)
    const blob = await canvas.convertToBlob({ type: 'image/webp', quality: 0.5 })
    const out = new Uint8Array(await blob.arrayBuffer())
    let text = ''
    for (let i = 0; i < out.length; i += 8192) text += String.fromCharCode(...out.subarray(i, i + 8192))
    return btoa(text)
  }, png.toString('base64'))
  return Buffer.from(text, 'base64')
}
