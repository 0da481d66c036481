// The spectrum of a recording that is made here: a tone in noise, at a known frequency and level, and one
// burst. It is drawn, the cursor reads the tone, keys and wheel move the view, an emission is selected.
const CENTRE_HZ = 433.92e6
const RATE_HZ = 1e6
const TONE_HZ = CENTRE_HZ + RATE_HZ / 8
const TONE_DBFS = -40

/** Two seconds of 16-bit samples: a tone on an eighth of the rate, noise under it. */
function samples(seconds, tone) {
  const count = seconds * RATE_HZ
  const rails = new Int16Array(2 * count)
  let seed = 12345
  const random = () => ((seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0) / 2 ** 32) * 2 - 1
  const amplitude = 32768 * (tone ? 10 ** (TONE_DBFS / 20) : 0)
  for (let n = 0; n < count; n++) {
    const phase = (2 * Math.PI * (n % 8)) / 8
    rails[2 * n] = Math.round(amplitude * Math.cos(phase) + 40 * random())
    rails[2 * n + 1] = Math.round(amplitude * Math.sin(phase) + 40 * random())
  }
  return new Uint8Array(rails.buffer)
}

async function said(url, path, init) {
  const answer = await fetch(new URL(path, url), init)
  if (!answer.ok) throw new Error(`${path}: ${await answer.text()}`)
  return answer.json()
}

async function add(url, survey, name, tone, role, at, start) {
  const json = (body) => ({ method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) })
  const base = `/api/surveys/${survey}`
  const { upload } = await said(url, `${base}/uploads`, json(null))
  const meta = {
    global: { 'core:datatype': 'ci16_le', 'core:sample_rate': RATE_HZ, 'core:version': '1.2.0' },
    captures: [{ 'core:sample_start': 0, 'core:frequency': CENTRE_HZ, 'core:datetime': start }], annotations: [],
  }
  await said(url, `${base}/uploads/${upload}/${name}.sigmf-data`, { method: 'PUT', body: samples(2, tone) })
  await said(url, `${base}/uploads/${upload}/${name}.sigmf-meta`, { method: 'PUT', body: JSON.stringify(meta) })
  const job = await said(url, `${base}/imports`, json({ upload, role, at, chain: 'receiver A' }))
  for (;;) {
    const now = await said(url, `${base}/jobs/${job.id}`)
    if (now.state === 'done') return
    if (now.state !== 'running') throw new Error(JSON.stringify(now))
    await new Promise((wait) => setTimeout(wait, 100))
  }
}

/** How many colours a part of the page shows. */
async function colours(page, locator) {
  const picture = (await locator.screenshot()).toString('base64')
  return page.evaluate(async (data) => {
    const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0))
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }))
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height)
    const context = canvas.getContext('2d')
    context.drawImage(bitmap, 0, 0)
    return new Set(new Uint32Array(context.getImageData(0, 0, bitmap.width, bitmap.height).data.buffer)).size
  }, picture)
}

export async function run({ page, url, check, picture }) {
  const survey = 'tone'
  await said(url, '/api/surveys', {
    method: 'POST', headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ survey, name: 'Heron', region: 'CEPT', time_zone: 'Europe/London', by: 'T. Ashdown' }),
  })
  await add(url, survey, 'yard', false, 'reference', 'yard', '2026-03-01T20:05:00Z')
  await add(url, survey, 'room', true, 'room', 'boardroom', '2026-03-01T20:25:00Z')
  for (let waits = 1; waits > 0; ) {
    waits = (await said(url, `/api/surveys/${survey}/ledger`)).waiting
    await new Promise((wait) => setTimeout(wait, 200))
  }

  await page.goto(`${url}#/s/${survey}/spectrum/C2`)
  const plot = page.locator('.plot')
  await page.locator('.plot[data-stays=true]').waitFor()
  await page.waitForTimeout(600)
  await picture('spectrum-tone')
  const ground = page.locator('canvas.ground')
  const drawn = await colours(page, ground)
  check(drawn > 12, `the spectrogram shows ${drawn} colours`)

  // The cursor on the tone reads its frequency and its level.
  const box = await ground.boundingBox()
  const x = box.x + (0.5 + 1 / 8) * box.width
  await page.mouse.move(x, box.y + box.height / 2)
  const reading = await page.locator('.reading').textContent()
  const mhz = Number(/([\d.]+) MHz/.exec(reading)?.[1])
  check(Math.abs(mhz * 1e6 - TONE_HZ) < 2 * (RATE_HZ / box.width), `the cursor reads ${reading}`)
  const level = Number(/max (−?[\d.]+) dBFS/.exec(reading)?.[1]?.replace('−', '-'))
  check(Math.abs(level - TONE_DBFS) < 1.5, `the tone reads ${reading}, not ${TONE_DBFS} dBFS`)

  // Closer about the pointer: the tone stays under it, in finer bins.
  for (let turn = 0; turn < 12; turn++) await page.mouse.wheel(0, -200)
  await page.waitForTimeout(900)
  await page.mouse.move(x + 1, box.y + box.height / 2)
  const close = await page.locator('.reading').textContent()
  check(Math.abs(Number(/([\d.]+) MHz/.exec(close)?.[1]) * 1e6 - TONE_HZ) < 1000, `closer, the cursor reads ${close}`)
  check((await colours(page, ground)) > 5, 'closer there is nothing')
  await picture('spectrum-tone-close')
  await page.keyboard.press('0')
  await page.keyboard.press('ArrowRight')
  await page.keyboard.press('+')
  await page.keyboard.press('0')
  await page.waitForTimeout(500)

  // A click on the bracket selects the emission; Enter opens it.
  const all = await plot.boundingBox()
  await page.mouse.click(x, all.y + 22)
  await page.locator('.choice strong').waitFor()
  const id = await page.locator('.choice strong').textContent()
  await picture('spectrum-tone-selected')
  await page.locator('.plot').click({ position: { x: 4, y: 4 } })
  await page.keyboard.press('n')
  await page.keyboard.press('Enter')
  await page.waitForFunction(() => location.hash.includes('/emissions/E'))
  check(/^E\d+$/.test(id), `selected ${id}`)
}
