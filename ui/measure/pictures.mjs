// Pictures of every page, from the demonstration's survey: by day and by night, on a desk and on a tablet.
// Writes docs/pictures/pages/NAME-{desk,tablet}-{day,night}.webp, which docs/pages.md shows.
//
//   node measure/pictures.mjs [--program FILE] [--demo DIR] [--dist DIR] [--only NAME,…] [--out DIR]
//
// `--demo` is a demonstration that was made before, `--dist` a page built since the program was.
import { execFileSync } from 'node:child_process'
import { cpSync, existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { chromium } from 'playwright-core'
import { fromFolder, serve } from './program.mjs'

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
const made = values.demo ? resolve(values.demo) : join(work, 'demo')
if (!values.demo) execFileSync(program, ['demo', '--out', made, '--no-serve'], { stdio: ['ignore', 'ignore', 'inherit'] })
const surveys = join(work, 'surveys')
mkdirSync(surveys)
cpSync(join(made, existsSync(join(made, 'survey')) ? 'survey' : '.'), join(surveys, 'quay'), { recursive: true })

const server = await serve(program, ['--surveys', surveys])
const { ledger } = await (await fetch(new URL('/api/surveys/quay/ledger', server.address))).json()
const byRank = ledger.emissions.toSorted((a, b) => a.attention.rank - b.attention.rank)
const iq = new Set(ledger.captures.filter((one) => one.kind === 'iq').map((one) => one.id))
const first = byRank[0]
const bursty = byRank.find((one) => one.shape === 'bursts' && one.bursts.count > 20 && one.receptions.some((r) => r.heard && iq.has(r.capture)))
const seenIn = first.receptions.find((one) => one.heard && iq.has(one.capture)).capture

/** Name, address, and what is pressed there. */
const PAGES = [
  ['surveys', '#/'],
  ['survey', '#/s/quay/survey'],
  ['premises', `#/s/quay/premises?row=${first.id}`],
  ['captures', '#/s/quay/captures'],
  ['spectrum', `#/s/quay/spectrum/${seenIn}`],
  ['spectrum-close', `#/s/quay/spectrum/${seenIn}?emission=${first.id}`],
  ['emissions', '#/s/quay/emissions'],
  ['emission', `#/s/quay/emissions/${bursty.id}`],
  ['emission-reasons', `#/s/quay/emissions/${first.id}`, (page) => page.getByRole('heading', { name: 'Why it deserves a look, or not' }).evaluate((it) => scrollTo(0, it.getBoundingClientRect().top + scrollY - 70))],
  ['decide', `#/s/quay/emissions/${first.id}`, (page) => page.keyboard.press('a')],
  ['timeline', '#/s/quay/timeline'],
  ['coverage', '#/s/quay/coverage'],
  ['journal', '#/s/quay/journal'],
  ['report', '#/s/quay/report'],
  ['found', '#/s/quay/survey', (page) => page.keyboard.press('!')],
  ['keys', `#/s/quay/spectrum/${seenIn}`, (page) => page.keyboard.press('?')],
]
const SCREENS = { desk: { width: 1440, height: 900 }, tablet: { width: 1280, height: 800 } }
const wanted = PAGES.filter(([name]) => !values.only || values.only.split(',').includes(name))

mkdirSync(values.out, { recursive: true })
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium' })
const encoder = await (await browser.newContext()).newPage()
for (const [screen, viewport] of Object.entries(SCREENS)) {
  for (const light of ['day', 'night']) {
    const context = await browser.newContext({
      viewport, colorScheme: light === 'night' ? 'dark' : 'light', hasTouch: screen === 'tablet', locale: 'en-GB', timezoneId: 'Europe/Dublin', reducedMotion: 'reduce',
    })
    if (values.dist) await fromFolder(context, values.dist)
    for (const [name, address, act] of wanted) {
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
    const blob = await canvas.convertToBlob({ type: 'image/webp', quality: 0.8 })
    const out = new Uint8Array(await blob.arrayBuffer())
    let text = ''
    for (let i = 0; i < out.length; i += 8192) text += String.fromCharCode(...out.subarray(i, i + 8192))
    return btoa(text)
  }, png.toString('base64'))
  return Buffer.from(text, 'base64')
}
