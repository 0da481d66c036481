// The spectrum of recordings that are made here: a tone in noise at a known frequency and level, one short
// burst in minutes of nothing; and of the demonstration's, whose receiver steps from band to band.
import { brightest, pixels } from './parts/pixels.mjs'
import { add, analysed, json, noise, said, tone } from './parts/recordings.mjs'

const CENTRE_HZ = 433.92e6
const RATE_HZ = 1e6
const TONE_HZ = CENTRE_HZ + RATE_HZ / 8
const TONE_DBFS = -40
/** 40 ms in two minutes. */
const BURST = { rateHz: 200e3, seconds: 120, fromS: 71.3, untilS: 71.34, hz: CENTRE_HZ + 200e3 / 16 }

const number = (text, pattern) => Number(pattern.exec(text)?.[1]?.replace('−', '-'))
const mhz = (text) => number(text, /([\d.]+) MHz/)

export async function run(given) {
  const { url } = given
  await said(url, '/api/surveys', json({ survey: 'tone', name: 'Heron', region: 'CEPT', time_zone: 'Europe/London', by: 'T. Ashdown' }))
  const rails = () => noise(2 * 2 * RATE_HZ, 40)
  const both = { rateHz: RATE_HZ, centreHz: CENTRE_HZ }
  await add(url, 'tone', { ...both, name: 'yard', rails: rails(), role: 'reference', at: 'yard', start: '2026-03-01T20:05:00Z' })
  await add(url, 'tone', { ...both, name: 'room', rails: tone(rails(), 1 / 8, 32768 * 10 ** (TONE_DBFS / 20)), role: 'room', at: 'boardroom', start: '2026-03-01T20:25:00Z' })
  await add(url, 'tone', { name: 'long', rails: long(), rateHz: BURST.rateHz, centreHz: CENTRE_HZ, role: 'room', at: 'boardroom', start: '2026-03-01T21:00:00Z' })
  await analysed(url, 'tone')
  await steady(given)
  await keysAlone(given)
  await burstAtEveryZoom(given)
  await stepped(given)
}

/** Noise repeated from another place each second, and the burst. */
function long() {
  const some = noise(2 * BURST.rateHz + 4096, 3, Int8Array)
  const rails = new Int8Array(2 * BURST.rateHz * BURST.seconds)
  for (let s = 0; s < BURST.seconds; s++) {
    const skip = 2 * ((s * 997) % 2048)
    rails.set(some.subarray(skip, skip + 2 * BURST.rateHz), 2 * BURST.rateHz * s)
  }
  return tone(rails, (BURST.hz - CENTRE_HZ) / BURST.rateHz, 12, BURST.fromS * BURST.rateHz, BURST.untilS * BURST.rateHz)
}

async function opened(page, address) {
  await page.goto('about:blank')
  await page.goto(address)
  await page.locator('.plot[data-stays=true]').waitFor()
  await page.waitForTimeout(700)
}

/** The tone is drawn, read by the pointer in every line, and stays under it while one zooms. */
async function steady({ page, url, check, picture }) {
  await opened(page, `${url}#/s/tone/spectrum/C2`)
  await picture('spectrum-tone')
  const ground = page.locator('canvas.ground')
  const { colours } = await pixels(page, ground)
  check(colours > 12, `the spectrogram shows ${colours} colours`)

  const box = await ground.boundingBox()
  const x = box.x + (0.5 + 1 / 8) * box.width
  const reading = async (y) => {
    await page.mouse.move(x + 1, y)
    await page.mouse.move(x, y)
    return page.locator('.reading').textContent()
  }
  const below = await reading(box.y + box.height / 2)
  check(Math.abs(mhz(below) * 1e6 - TONE_HZ) < 2 * (RATE_HZ / box.width), `the cursor reads ${below}`)
  check(Math.abs(number(below, /max (−?[\d.]+) dBFS/) - TONE_DBFS) < 1.5, `the tone reads ${below}, not ${TONE_DBFS} dBFS`)

  // A steady tone is as strong on average, at its most, in nine rows of ten and at a moment; the
  // reference under it has none, and so the difference is large.
  await page.getByRole('button', { name: 'Percentile' }).click()
  await page.getByLabel('Which percentile').fill('90')
  await page.getByLabel('Which percentile').press('Enter')
  await page.getByRole('button', { name: 'Now' }).click()
  await page.waitForTimeout(900)
  const above = await reading(box.y - 150)
  for (const line of ['now', 'mean', 'max', '90 %']) {
    const level = number(above, new RegExp(`· ${line} (−?[\\d.]+) dBFS`))
    check(Math.abs(level - TONE_DBFS) < 1.5, `${line} reads ${above}`)
  }
  check(number(above, /C1 90 % (−?[\d.]+) dBFS/) < TONE_DBFS - 30, `the reference reads ${above}`)
  await picture('spectrum-lines')
  await page.getByRole('button', { name: 'Difference' }).click()
  const over = await reading(box.y - 151)
  check(number(over, /90 % (−?[\d.]+) dB\b/) > 30, `the difference reads ${over}`)
  await page.getByRole('button', { name: 'Difference' }).click()
  await page.getByRole('button', { name: 'Now' }).click()
  await page.getByRole('button', { name: 'Percentile' }).click()

  // Closer about the pointer: the tone stays under it, in finer bins.
  await reading(box.y + box.height / 2)
  for (let turn = 0; turn < 12; turn++) await page.mouse.wheel(0, -200)
  await page.waitForTimeout(900)
  const close = await reading(box.y + box.height / 2)
  check(Math.abs(mhz(close) * 1e6 - TONE_HZ) < 1000, `closer, the cursor reads ${close}`)
  check((await pixels(page, ground)).colours > 5, 'closer there is nothing')
  await picture('spectrum-tone-close')
  await page.keyboard.press('0')

  // A click on the bracket selects the emission; Escape lets it go.
  const all = await page.locator('.plot').boundingBox()
  await page.mouse.click(x, all.y + 22)
  await page.locator('.choice strong').waitFor()
  const id = await page.locator('.choice strong').textContent()
  check(/^E\d+$/.test(id), `selected ${id}`)
  await picture('spectrum-tone-selected')
  await page.keyboard.press('Escape')
  await page.locator('.choice strong').waitFor({ state: 'detached' })
  await page.mouse.move(5, 5)
}

/** Without a pointer: the cursor is led to the tone, zoomed about, and what it reads is told. */
async function keysAlone({ page, check, picture }) {
  const reading = () => page.locator('.reading').textContent()
  await page.keyboard.press('ArrowRight')
  check(Math.abs(mhz(await reading()) * 1e6 - CENTRE_HZ) < RATE_HZ / 20, `the cursor begins at ${await reading()}`)
  for (let n = 0; n < 60 && mhz(await reading()) * 1e6 < TONE_HZ - RATE_HZ / 48; n++) await page.keyboard.press('ArrowRight')
  for (let n = 0; n < 60 && mhz(await reading()) * 1e6 < TONE_HZ; n++) await page.keyboard.press('Shift+ArrowRight')
  const there = mhz(await reading()) * 1e6
  check(Math.abs(there - TONE_HZ) < 2000, `finely, the cursor comes to ${await reading()}`)
  for (let n = 0; n < 9; n++) await page.keyboard.press('+')
  await page.waitForTimeout(1200)
  check(Math.abs(mhz(await reading()) * 1e6 - there) < 500, `zoomed about it, the cursor reads ${await reading()}`)
  const told = await page.locator('.plot ~ [role=status]').textContent()
  check(told.includes('MHz') && told.includes('dBFS'), `what is told is ${told}`)
  await page.keyboard.press('n')
  await page.waitForTimeout(900)
  const next = await reading()
  check(Math.abs(mhz(next) * 1e6 - TONE_HZ) < 200, `the next emission reads ${next}`)
  check(/E\d+ open/.test(next), `the emission is not named: ${next}`)
  await picture('spectrum-keys')
  await page.keyboard.press('?')
  await page.getByRole('dialog').getByText('the cursor higher, finely').waitFor()
  await page.keyboard.press('Escape')
  await page.keyboard.press('Enter')
  await page.waitForFunction(() => location.hash.includes('/emissions/E'))
}

/** 40 ms in two minutes: from the whole down to itself, its pixels are the brightest. */
async function burstAtEveryZoom({ page, url, check, picture }) {
  const ground = page.locator('canvas.ground')
  const at = (BURST.fromS + BURST.untilS) / 2
  for (const [byHz, byS] of [[1, 1], [1, 4], [4, 1], [4, 16], [64, 1], [16, 64], [1, 256], [64, 256], [16, 1024]]) {
    const [spanHz, spanS] = [BURST.rateHz / byHz, BURST.seconds / byS]
    const low = byHz === 1 ? CENTRE_HZ - spanHz / 2 : BURST.hz - 0.37 * spanHz
    const from = byS === 1 ? 0 : at - 0.61 * spanS
    await opened(page, `${url}#/s/tone/spectrum/C3?low=${low}&high=${low + spanHz}&from=${from}&until=${from + spanS}`)
    const seen = await pixels(page, ground)
    const across = (hz) => ((hz - low) / spanHz) * seen.width
    const down = (s) => ((s - from) / spanS) * seen.height
    // Spectra reach beyond what they show by their window and by a cell.
    const air = Math.max(3, (200 / spanHz) * seen.width)
    const tall = Math.max(3, (0.02 / spanS) * seen.height)
    const box = [across(BURST.hz) - air, down(BURST.fromS) - tall, across(BURST.hz) + air, down(BURST.untilS) + tall]
    const { most, rest, loudest } = brightest(seen, box)
    check(most > rest + 40 && most > loudest, `${byHz} times closer along frequency and ${byS} along time, the burst shows ${most}, all else ${rest} and at most ${loudest}`)
    if (byHz === 1 && byS === 1) await picture('spectrum-burst')
  }
}

/** A receiver that steps: its bands stand side by side, each is there, and gaps say what they are. */
async function stepped({ page, url, survey, check, picture }) {
  const captures = await said(url, `/api/surveys/${survey}/captures`)
  const of = await Promise.all(captures.filter((one) => one.kind === 'iq').map(async ({ id }) => ({ id, ...(await said(url, `/api/surveys/${survey}/captures/${id}/spectrum`)) })))
  const most = of.toSorted((a, b) => b.duration_s - a.duration_s).find((one) => one.segments.length > 50 && one.duration_s < 600)
  await opened(page, `${url}#/s/${survey}/spectrum/${most.id}`)
  await page.waitForTimeout(1500)
  await picture('spectrum-stepped')
  const lows = [...new Set(most.segments.map((one) => one.low_hz))].sort((a, b) => a - b)
  const ground = page.locator('canvas.ground')
  const box = await ground.boundingBox()
  const found = new Set()
  let gaps = 0
  for (let x = 4; x < box.width; x += 9) {
    await page.mouse.move(box.x + x, box.y + box.height / 2)
    const reading = await page.locator('.reading').textContent()
    if (reading.includes('not received')) gaps += 1
    else {
      const [value, unit] = /([\d.]+) ([MG])Hz/.exec(reading).slice(1)
      const hz = Number(value) * (unit === 'G' ? 1e9 : 1e6)
      const band = most.segments.find((one) => hz > one.low_hz - 5e4 && hz < one.high_hz + 5e4)
      check(band, `${reading} was never received`)
      check(/(max −?[\d.]+ dB)/.test(reading), `no level is read: ${reading}`)
      found.add(band.low_hz)
    }
  }
  check(found.size === lows.length, `of ${lows.length} bands ${found.size} are in the whole view`)
  check(gaps > 0 && gaps < (0.3 * box.width) / 9, `${gaps} places of the whole view are gaps`)

  // From band to band by keys, and into single bins by the pointer, which stays where it is.
  await page.mouse.move(5, 5)
  await page.keyboard.press('.')
  await page.keyboard.press('.')
  const band = await page.locator('select.band').evaluate((select) => select.selectedOptions[0].textContent)
  check(mhz(band) * 1e6 === lows[1] || band.startsWith(String(lows[1] / 1e6)), `the second band is called ${band}`)
  await page.keyboard.press('0')
  const x = box.x + box.width * 0.3
  await page.mouse.move(x, box.y + 40)
  const before = mhz(await page.locator('.reading').textContent())
  for (let turn = 0; turn < 14; turn++) await page.mouse.wheel(0, -200)
  await page.waitForTimeout(900)
  await page.mouse.move(x + 1, box.y + 40)
  await page.mouse.move(x, box.y + 40)
  check(Math.abs(mhz(await page.locator('.reading').textContent()) - before) < 0.02, `closer, ${before} MHz became ${await page.locator('.reading').textContent()}`)
  await embedded({ page, url, survey, check, picture })
}

/** An emission's page shows where it was, burst by burst, and leads there. */
async function embedded({ page, url, survey, check, picture }) {
  const { ledger } = await said(url, `/api/surveys/${survey}/ledger`)
  const iq = new Set(ledger.captures.filter((one) => one.kind === 'iq').map((one) => one.id))
  const row = ledger.emissions.find((one) => one.shape === 'bursts' && one.bursts.count > 20 && one.receptions.some((r) => r.heard && iq.has(r.capture)))
  await page.goto(`${url}#/s/${survey}/emissions/${row.id}`)
  await page.locator('.picture .plot[data-stays=true]').waitFor()
  await page.getByRole('heading', { name: /^Bursts in C\d+/ }).waitFor()
  const told = page.getByText(/^Burst \d+ of \d+:/)
  const first = await told.textContent()
  await page.getByRole('button', { name: 'Next burst' }).click()
  await page.waitForFunction((was) => !document.body.textContent.includes(was), first)
  await page.locator('.picture .plot[data-stays=true]').waitFor()
  await page.waitForTimeout(600)
  check((await pixels(page, page.locator('.picture canvas.ground'))).colours > 8, 'the burst does not show')
  await picture('emission-burst')
  await page.getByRole('link', { name: 'In the spectrum page' }).click()
  await page.waitForFunction(() => location.hash.includes('/spectrum/C'))
  await page.locator('.choice strong').waitFor()
  check((await page.locator('.choice strong').textContent()) === row.id, 'another emission is selected there')
}
