// Measures looking at a recording: tiles over HTTP as the page asks for them, the server's memory, and
// the page's frames while it pans and zooms in Chromium. Writes docs/scores/tiles.md.
//
//   node measure/tiles.mjs --recording FILE.sigmf-meta [--survey DIR] [--program FILE]
//
// Without --survey the recording is brought into a new one beside it first, which takes as much disk as
// the recording itself and is removed afterwards.
import { execFileSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { cpus, loadavg } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { chromium } from 'playwright-core'
import { createServer } from 'vite'
import { serve } from '../program.mjs'

const here = dirname(fileURLToPath(import.meta.url))
const { values } = parseArgs({
  options: {
    program: { type: 'string', default: join(here, '../../target/release/stillroom') },
    recording: { type: 'string' },
    survey: { type: 'string' },
    /** The page's address, where the program was built without it. */
    page: { type: 'string' },
    port: { type: 'string', default: '0' },
    /** What the recording is, for the table. */
    note: { type: 'string', default: '' },
  },
})
const program = resolve(values.program)
const recording = values.recording && resolve(values.recording)
const made = values.survey ? null : mkdtempSync(join(dirname(recording), 'tiles-'))
const survey = values.survey ? resolve(values.survey) : join(made, 'wide')
if (!existsSync(join(survey, 'survey.sqlite'))) {
  execFileSync(program, ['new', survey, '--by', 'measure'], { stdio: 'inherit' })
  execFileSync(program, ['add', survey, recording, '--role', 'room', '--at', 'room', '--by', 'measure'], { stdio: 'inherit' })
}

const WIDTH = 1280
const HEIGHT = 480
const AT_ONCE = 4

const server = await serve(program, [survey, ...(values.port === '0' ? [] : ['--port', values.port])])
const { address } = server
const memory = () => {
  const status = readFileSync(`/proc/${server.pid}/status`, 'utf8')
  return Number(/VmHWM:\s+(\d+)/.exec(status)[1]) / 1024
}

// The page's own arithmetic says which tiles a view needs.
const vite = await createServer({ root: join(here, '..'), server: { middlewareMode: true, ws: false }, logLevel: 'error' })
const { levelFor, tilesIn, keyOf } = await vite.ssrLoadModule('/src/spectrum/levels.ts')
const { zoomed, moved } = await vite.ssrLoadModule('/src/spectrum/view.ts')
const { axisOf } = await vite.ssrLoadModule('/src/spectrum/axis.ts')

const name = (await (await fetch(new URL('/api/surveys', address))).json())[0].survey ?? 'wide'
const captures = await (await fetch(new URL(`/api/surveys/${name}/captures`, address))).json()
const path = `/api/surveys/${name}/captures/${captures[0].id}/spectrum`
const opened = performance.now()
const of = await (await fetch(new URL(path, address))).json()
const openMs = performance.now() - opened
const within = { lowHz: of.low_hz, highHz: of.high_hz, fromS: 0, untilS: of.duration_s, leastHz: 16 * of.levels[0].cell_hz, leastS: 1e-5, axis: axisOf(of) }

let seed = 7
const random = () => (seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0) / 2 ** 32
const took = { overview: [], samples: [], again: [], trace: [], view: [] }
const seen = new Set()

async function tile(place) {
  const query = `frequency_level=${place.f}&time_level=${place.t}&column=${place.column}&row=${place.row}&of=max`
  const began = performance.now()
  const answer = await fetch(new URL(`${path}/tile?${query}`, address))
  const codes = await answer.arrayBuffer()
  if (codes.byteLength !== of.tile_cells * of.tile_rows) throw new Error(`${query}: ${answer.status}`)
  const ms = performance.now() - began
  const kind = place.f < 0 || place.t < 0 ? 'samples' : 'overview'
  took[seen.has(keyOf(place)) ? 'again' : kind].push(ms)
  seen.add(keyOf(place))
}

/** As the page does: what is in view and not there yet, four at once. */
async function look(view, had) {
  const level = levelFor(of, view, WIDTH, HEIGHT, 0, within.axis)
  const places = tilesIn(of, view, level, within.axis).filter((place) => !had.has(keyOf(place)))
  const began = performance.now()
  const each = async () => {
    for (let place = places.shift(); place; place = places.shift()) {
      had.add(keyOf(place))
      await tile(place)
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, each))
  took.view.push(performance.now() - began)
  const query = new URLSearchParams({ from_s: view.fromS, until_s: view.untilS, low_hz: view.lowHz, high_hz: view.highHz, points: WIDTH })
  const asked = performance.now()
  await (await fetch(new URL(`${path}/trace?${query}`, address))).json()
  took.trace.push(performance.now() - asked)
}

for (let walk = 0; walk < 24; walk++) {
  const had = new Set()
  let view = { lowHz: within.lowHz, highHz: within.highHz, fromS: 0, untilS: within.untilS }
  const [x, y] = [random(), random()]
  await look(view, had)
  while (view.untilS - view.fromS > 2e-3) {
    view = zoomed(view, x, y, random() < 0.7 ? 0.5 : 1, 0.4, within)
    await look(view, had)
    if (random() < 0.4) {
      view = moved(view, random() - 0.5, random() - 0.5, within)
      await look(view, had)
    }
  }
}
const used = memory()

const frames = await inChromium()
await vite.close()
await server.stop()
write()
if (made) rmSync(made, { recursive: true, force: true })
process.exit(0)

/** Pans by drag and zooms by wheel for some seconds each; frames shown and time of the main thread. */
async function inChromium() {
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium' })
  const page = await (await browser.newContext({ viewport: { width: 1440, height: 900 } })).newPage()
  await page.goto(`${values.page ?? address}#/s/${name}/spectrum/${captures[0].id}`)
  await page.locator('.plot[data-stays=true]').waitFor({ timeout: 60_000 })
  await page.waitForTimeout(1500)
  const cdp = await page.context().newCDPSession(page)
  await cdp.send('Performance.enable')
  const metrics = async () => {
    const { metrics } = await cdp.send('Performance.getMetrics')
    return Object.fromEntries(metrics.map((one) => [one.name, one.value]))
  }
  const box = await page.locator('canvas.ground').boundingBox()
  const painter = await page.locator('.plot').getAttribute('data-painter')
  const middle = [box.x + box.width / 2, box.y + box.height / 2]
  async function while_(moves) {
    await page.evaluate(() => {
      window.counted = 0
      const count = () => (window.counted++, (window.counting = requestAnimationFrame(count)))
      count()
    })
    const [before, began] = [await metrics(), performance.now()]
    await moves()
    const [after, ended] = [await metrics(), performance.now()]
    const shown = await page.evaluate(() => (cancelAnimationFrame(window.counting), window.counted))
    return {
      fps: (shown / (ended - began)) * 1000,
      busyMs: ((after.TaskDuration - before.TaskDuration) / shown) * 1000,
      scriptMs: ((after.ScriptDuration - before.ScriptDuration) / shown) * 1000,
    }
  }
  await page.mouse.move(...middle)
  const zoom = await while_(async () => {
    for (let turn = 0; turn < 90; turn++) {
      await page.mouse.wheel(0, turn % 60 < 30 ? -60 : 60)
      await page.waitForTimeout(16)
    }
  })
  for (let turn = 0; turn < 10; turn++) await page.mouse.wheel(0, -150)
  await page.waitForTimeout(800)
  const pan = await while_(async () => {
    await page.mouse.down()
    for (let turn = 0; turn < 120; turn++) {
      await page.mouse.move(middle[0] + 300 * Math.sin(turn / 12), middle[1] + 120 * Math.sin(turn / 17))
      await page.waitForTimeout(16)
    }
    await page.mouse.up()
  })
  await browser.close()
  return { painter, zoom, pan }
}

function write() {
  const at = (list, part) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(part * list.length))] ?? NaN
  const row = (title, list) => `| ${title} | ${list.length} | ${[0.5, 0.95, 1].map((part) => at(list, part).toFixed(1)).join(' | ')} |`
  const tiles = [...took.overview, ...took.samples, ...took.again]
  const bytes = recording ? statSync(recording.replace(/-meta$/, '-data')).size : captures[0].files[0].bytes
  const frame = (title, f) => `| ${title} | ${f.fps.toFixed(0)} | ${f.busyMs.toFixed(1)} | ${f.scriptMs.toFixed(1)} | ${(1000 / f.busyMs).toFixed(0)} |`
  writeFileSync(join(here, '../../docs/scores/tiles.md'), `# Looking at a recording

Written by \`node ui/measure/tiles.mjs\`: ${cpus().length} threads, ${cpus()[0].model}, load average ${loadavg()[0].toFixed(1)} at the end. The
recording: ${of.duration_s.toFixed(0)} s at ${(of.sample_rate_hz / 1e6).toFixed(1)} Msps, ${captures[0].format}, ${(bytes / 1e9).toFixed(2)} GB${values.note && `: ${values.note}`}.
Targets: tiles in 50 ms at the 95th percentile, server memory under 500 MB, 30 frames a second of main-thread time.

## Tiles over HTTP

24 walks from all of it to milliseconds, zooming and panning at places drawn by lot; the tiles that a page
of ${WIDTH} × ${HEIGHT} lacks, ${AT_ONCE} at once, each timed from request to last byte, its wait for the others included.
Opening the recording took ${openMs.toFixed(0)} ms.

| what | number | median, ms | 95th percentile, ms | longest, ms |
| --- | --: | --: | --: | --: |
${row('tiles of the overview, the first time', took.overview)}
${row('tiles of the samples, the first time', took.samples)}
${row('tiles that were made before', took.again)}
${row('all tiles', tiles)}
${row('a whole view', took.view)}
${row('a trace', took.trace)}

Peak memory of the server: ${used.toFixed(0)} MB.

## Frames in Chromium

Headless, without a graphics card, 1440 × 900; the painter chosen was ${frames.painter}.

| while | frames a second shown | main thread, ms a frame | of it script, ms | frames a second that this allows |
| --- | --: | --: | --: | --: |
${frame('zooming', frames.zoom)}
${frame('panning', frames.pan)}
`)
}
