// Pictures among the evidence: photographs of a position, a room and a found item, kept with the place that
// the camera wrote; images as plans, scaled by two clicks and a length, on which a position lies where it should.
import { createHash } from 'node:crypto'
import { crc32 } from 'node:zlib'
import { sound } from './parts/axe.mjs'
import { photograph, planPng, planSvg } from './parts/pictures.mjs'

/** A PNG that says it is 100 000 pixels a side: width and height are bytes 16 to 23 (ISO/IEC 15948, 11.2.2). */
function vast(png) {
  const bytes = Buffer.from(png)
  bytes.writeUInt32BE(100_000, 16)
  bytes.writeUInt32BE(100_000, 20)
  bytes.writeUInt32BE(crc32(bytes.subarray(12, 29)), 29)
  return bytes
}

export async function run({ page, url, survey, check, picture, restart }) {
  const record = () => page.evaluate((name) => fetch(`/api/surveys/${name}/record`).then((r) => r.json()), survey)
  const aside = page.locator('aside')
  const plan = page.locator('svg[role=application]')
  const button = (name) => aside.getByRole('button', { name, exact: true })
  const premises = async (view = '') => {
    await page.goto(`${url}#/s/${survey}/premises${view}`)
    await page.getByRole('heading', { name: 'Premises' }).waitFor()
  }
  const choose = async (where, file) => {
    const asked = page.waitForEvent('filechooser')
    await where.getByText('Add photographs').click()
    await (await asked).setFiles([file])
    await where.getByRole('img', { name: new RegExp(file.name) }).waitFor()
  }
  /** Shown, and byte for byte what the camera wrote, its place with it. */
  const stands = async (where, file) => {
    const shown = where.getByRole('img', { name: new RegExp(file.name) })
    await shown.scrollIntoViewIfNeeded()
    await page.waitForFunction((image) => image.complete && image.naturalWidth === 640, await shown.elementHandle())
    const bytes = Buffer.from(await page.evaluate(async (image) => [...new Uint8Array(await (await fetch(image.src)).arrayBuffer())], await shown.elementHandle()))
    check(createHash('sha256').update(bytes).digest('hex') === createHash('sha256').update(file.buffer).digest('hex'), `${file.name} is not as it was`)
    check(bytes.includes('Exif\0\0'), `${file.name} lost its place`)
  }

  // Of a position, of a room, of a found item; each again after the program was killed and the page read anew.
  const [desk, door, box] = [await photograph(page, 'desk.jpg'), await photograph(page, 'door.jpg', { north: [53, 20, 31], west: [6, 15, 44] }), await photograph(page, 'box.jpg', { north: [53, 20, 32], west: [6, 15, 43] })]
  const at = async () => {
    await premises()
    await aside.getByRole('button', { name: /^Reception/ }).first().click()
    await button('Photographs').click()
  }
  const room = async () => {
    await premises('/draw')
    await button('Change Kitchen').click()
  }
  const item = async () => {
    await page.goto(`${url}#/s/${survey}/emissions`)
    const known = page.getByRole('link', { name: /^F1/ })
    if ((await record()).found_items.length > 0) await known.click()
    else {
      // Opening the form writes nothing; 'Write down' does.
      await page.getByRole('button', { name: 'Add one' }).click()
      await page.getByRole('dialog').getByLabel('What it looks like').fill('grey box, two wires')
      check((await record()).found_items.length === 0, 'an item is written before it is said to be')
      await page.getByRole('dialog').getByRole('button', { name: 'Write down' }).click()
    }
    await page.getByRole('dialog').getByRole('heading', { name: /Found item/ }).waitFor()
  }
  await at()
  await choose(aside, desk)
  await sound(page, 'photograph-position', check, picture)
  await room()
  await choose(aside, door)
  await sound(page, 'photograph-room', check, picture)
  await item()
  await choose(page.getByRole('dialog'), box)
  await sound(page, 'photograph-item', check, picture)
  await restart()
  await page.reload()
  await at()
  await stands(aside, desk)
  await room()
  await stands(aside, door)
  await item()
  await stands(page.getByRole('dialog'), box)
  await page.keyboard.press('Escape')

  // A floor with an image, on which nothing is drawn yet: the first click becomes 0, 0.
  const [WIDE, HIGH] = [1000, 700]
  await premises('/draw')
  await button('Add a floor').click()
  await aside.getByLabel('Name').fill('cellar')
  await button('Write it down').click()
  await page.getByRole('button', { name: 'cellar', exact: true, pressed: true }).waitFor()
  const image = plan.locator('image')
  /** Where a pixel of the image is on the screen. */
  const pixel = async (x, y) => {
    const box = await image.boundingBox()
    return [box.x + (x / WIDE) * box.width, box.y + (y / HIGH) * box.height]
  }
  const bring = async (file) => {
    await aside.locator('input[type=file]').last().setInputFiles(file)
    await aside.getByText(file.name).waitFor()
    await image.waitFor()
    await page.waitForTimeout(300)
  }
  const scale = async (a, b, metres) => {
    await button('Scale it').click()
    for (const point of [a, b]) await page.mouse.click(...(await pixel(...point)))
    await aside.getByLabel(/^From A to B/).fill(String(metres))
    await sound(page, `plan-scaling-${metres}`, check, picture)
    await button('Scale').click()
    await aside.getByLabel(/^From A to B/).waitFor({ state: 'detached' })
    return (await record()).floors.find((one) => one.name === 'cellar')
  }
  // What is no whole image is refused where it was chosen, with what to do, and nothing of it stays.
  const whole = await planPng(page, 'cellar.png', WIDE, HIGH)
  for (const [name, bytes] of [['letter.png', Buffer.from('a letter, no image')], ['cut.png', whole.buffer.subarray(0, whole.buffer.length / 2)], ['vast.png', vast(whole.buffer)]]) {
    const before = await record()
    await aside.locator('input[type=file]').last().setInputFiles({ name, mimeType: 'image/png', buffer: bytes })
    const told = aside.getByRole('alert')
    await told.waitFor()
    await picture(`plan-refused-${name}`)
    check((await told.textContent()).includes(name), `the refusal of ${name} reads: ${await told.textContent()}`)
    check((await page.getByText(/Not done|cannot be/).count()) === 1, `the refusal of ${name} is told more than once`)
    const after = await record()
    check(JSON.stringify(after.floors) === JSON.stringify(before.floors), `${name} left something of a floor`)
    const held = await page.evaluate((of) => fetch(`/api/surveys/${of}/uploads`).then((r) => r.json()), survey)
    check(held.length === 0, `${name} waits among the uploads`)
    await aside.getByRole('button', { name: 'Put away' }).click()
  }
  await bring(whole)
  await aside.getByText('It has no scale yet.').waitFor()
  // A wall of 400 pixels is said to be 10 m: 25 mm a pixel.
  const scaled = await scale([100, 600], [500, 600], 10)
  const near = (value, wanted, by) => Math.abs(value - wanted) <= by
  check(near(scaled.scale_m_per_px, 0.025, 0.025 / 200), `the scale is ${scaled.scale_m_per_px}`)
  check(near(scaled.origin_px[0], 100, 1.5) && near(scaled.origin_px[1], 600, 1.5), `0, 0 is at ${scaled.origin_px}`)

  // A tap on pixel 300, 400 is 200 pixels east and 200 north of the first click: 5 m and 5 m.
  await premises()
  await page.getByRole('button', { name: 'cellar', exact: true }).click()
  await image.waitFor()
  await page.waitForTimeout(300)
  await page.mouse.click(...(await pixel(300, 400)))
  await aside.getByLabel('Name').fill('Pillar')
  await button('Make this position').click()
  await aside.getByRole('heading', { name: 'Pillar', exact: true }).waitFor()
  const pillar = (await record()).positions.find((one) => one.name === 'Pillar')
  check(pillar.floor === 'cellar' && near(pillar.x_m, 5, 0.05) && near(pillar.y_m, 5, 0.05), `it lies at ${pillar.x_m}, ${pillar.y_m}`)
  /** Where its mark is on the image, pixels. */
  const marked = async () => {
    const [box, mark] = [await image.boundingBox(), await plan.getByRole('button', { name: /^Pillar,/ }).locator('circle').first().boundingBox()]
    return [((mark.x + mark.width / 2 - box.x) / box.width) * WIDE, ((mark.y + mark.height / 2 - box.y) / box.height) * HIGH]
  }
  await page.reload()
  await page.getByRole('button', { name: 'cellar', exact: true }).click()
  await image.waitFor()
  await page.waitForTimeout(300)
  const lies = await marked()
  check(near(lies[0], 300, 2) && near(lies[1], 400, 2), `its mark is at pixel ${lies}`)
  await sound(page, 'plan-png', check, picture)

  // Another image, of twice the size, as SVG: what was drawn keeps its place at the first click.
  await premises('/draw')
  await page.getByRole('button', { name: 'cellar', exact: true }).click()
  await bring(planSvg('cellar.svg', WIDE, HIGH))
  const [px, py] = await marked()
  // The pillar is at its pixel; 200 pixels east of it lies, by this plan, 8 m away: 40 mm a pixel.
  const anew = await scale([px, py], [px + 200, py], 8)
  check(near(anew.scale_m_per_px, 0.04, 0.04 / 100), `the second scale is ${anew.scale_m_per_px}`)
  const stays = (await record()).positions.find((one) => one.name === 'Pillar')
  check(stays.x_m === pillar.x_m && stays.y_m === pillar.y_m, 'scaling moved a position')
  await premises()
  await page.getByRole('button', { name: 'cellar', exact: true }).click()
  await image.waitFor()
  await page.waitForTimeout(300)
  const again = await marked()
  check(near(again[0], px, 3) && near(again[1], py, 3), `the mark is at ${again}, not at ${[px, py]}`)
  await sound(page, 'plan-svg', check, picture)
}
