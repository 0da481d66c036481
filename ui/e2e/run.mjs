// Runs the page's journeys in Chromium against the real program, each on surveys of its own.
//
//   node e2e/run.mjs [--program FILE] [--demo DIR] [--dist DIR] [--pictures DIR] [JOURNEY…]
//
// A journey is a file of this folder that exports `run({ … })`. The demonstration survey is made once
// and copied, since it takes longer than all else. `--dist` shows a page built since the program was.
import { cpSync, mkdirSync, mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { chromium } from 'playwright-core'
import { demonstration, fromFolder, serve } from '../program.mjs'

const here = dirname(fileURLToPath(import.meta.url))
const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    program: { type: 'string', default: join(here, '../../target/release/stillroom') },
    demo: { type: 'string' },
    dist: { type: 'string' },
    pictures: { type: 'string' },
  },
})
const program = resolve(values.program)
const all = readdirSync(here).filter((name) => name.endsWith('.mjs') && name !== 'run.mjs').map((name) => name.slice(0, -4))
const journeys = positionals.length > 0 ? positionals : all.sort()
const work = mkdtempSync(join(tmpdir(), 'pages-'))

/** The program, serving a folder of surveys. */
const serveAll = (surveys, port) => serve(program, ['--surveys', surveys, ...(port ? ['--port', String(port)] : [])])

function check(condition, text) {
  if (!condition) throw new Error(text)
}

const { made, survey } = demonstration(program, values.demo, work)
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium' })
let failed = 0
for (const name of journeys) {
  const surveys = join(work, name)
  mkdirSync(surveys)
  cpSync(survey, join(surveys, 'demo'), { recursive: true })
  const began = Date.now()
  let server = await serveAll(surveys)
  const wrong = []
  // Once the program was killed, a page rightly says that its connection broke, whenever that reaches it.
  let killed = false
  const broke = (text) => /net::ERR_(INCOMPLETE_CHUNKED_ENCODING|EMPTY_RESPONSE|CONNECTION_\w+|SOCKET_NOT_CONNECTED|ABORTED)/.test(text)
  const said = (message) => message.type() === 'error' && !(killed && broke(message.text())) && wrong.push(message.text())
  /** A browser of its own, as another person's: its first page. */
  const open = async (options) => {
    const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', ...options })
    if (values.dist) await fromFolder(context, values.dist)
    const page = await context.newPage()
    page.setDefaultTimeout(20_000)
    page.on('pageerror', (error) => wrong.push(String(error)))
    page.on('console', said)
    return page
  }
  const page = await open()
  const context = page.context()
  const port = new URL(server.address).port
  const given = {
    page, browser, context, open, check, url: server.address, survey: 'demo', surveys, demo: made,
    /** Kills the program and starts it again at the same address. */
    restart: async () => {
      killed = true
      await server.kill()
      server = await serveAll(surveys, port)
    },
    /** A picture, where pictures are wanted. */
    picture: async (called, of = page) => {
      if (!values.pictures) return
      mkdirSync(values.pictures, { recursive: true })
      await of.screenshot({ path: join(values.pictures, `${called}.png`) })
    },
    /** What went wrong in the page itself; a journey that provokes refusals empties it. */
    wrong,
  }
  try {
    const { run } = await import(`./${name}.mjs`)
    await run(given)
    check(wrong.length === 0, `the page said: ${wrong.join('; ')}`)
    console.log(`ok   ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`)
  } catch (error) {
    failed += 1
    console.log(`FAIL ${name}: ${error.stack ?? error}${wrong.length ? `\nthe page said: ${wrong.join('; ')}` : ''}`)
    for (const [i, one] of browser.contexts().flatMap((of) => of.pages()).entries()) {
      await one.screenshot({ path: join(tmpdir(), `page-${name}-${i}.png`) }).catch(() => {})
    }
  }
  for (const one of browser.contexts()) await one.close()
  await server.stop()
  rmSync(surveys, { recursive: true, force: true })
}
await browser.close()
rmSync(work, { recursive: true, force: true })
console.log(`${journeys.length - failed} passed, ${failed} failed`)
process.exit(failed === 0 ? 0 : 1)
