// What the technician concludes is written, the report made and fetched; it says what was decided and found.
import { readFileSync } from 'node:fs'

export async function handsOver({ page, hand, survey, check, seen }, item) {
  const { ledger } = await page.evaluate((name) => fetch(`/api/surveys/${name}/ledger`).then((r) => r.json()), survey)
  await hand.go('Report')
  const summary = page.getByRole('region', { name: 'Summary and advice' })
  await hand.press(summary.getByRole('button', { name: 'Write it down' }))
  await hand.write(summary.getByLabel(/^Summary:/), 'Five transmitters that nobody accounts for were heard inside; one was found.')
  await hand.write(summary.getByLabel(/^Advice:/), 'Leave the lamp where it is and ask the police.')
  await hand.write(summary.getByLabel('Who answers for the report'), 'R. Alder')
  await hand.write(summary.getByLabel(/^By what training/), 'licensed for radio measurement')
  await seen('concluding')
  await hand.press(summary.getByRole('button', { name: 'Save' }))
  await summary.getByText('licensed for radio measurement').waitFor()

  await hand.press(page.getByRole('button', { name: 'Make the report' }))
  const save = (file) => page.getByRole('link', { name: `Save ${file}` })
  await save('report.pdf').waitFor({ timeout: 60_000 })
  await seen('report')
  async function fetch_(file) {
    const asked = page.waitForEvent('download')
    await hand.press(save(file))
    return readFileSync(await (await asked).path())
  }
  const pdf = await fetch_('report.pdf')
  check(pdf.subarray(0, 4).toString('latin1') === '%PDF' && pdf.length > 20_000, `the PDF is ${pdf.length} bytes`)
  const html = await fetch_('report.html')
  const said = read(html.toString('utf8'))
  check(said.includes(item.what), 'the report does not name what was found')
  check(said.includes('Five transmitters that nobody accounts for'), 'the report lacks its summary')
  // A sentence begins with a capital, whatever was typed.
  for (const { id, decision } of ledger.emissions) {
    check(new RegExp(`\\b${id}\\b`).test(said) && said.toLowerCase().includes(decision.reason.toLowerCase()), `the report lacks the decision on ${id}: ${decision.reason}`)
  }
  // The photograph's place stays with the evidence.
  const pictures = [...html.toString('latin1').matchAll(/data:image\/[a-z+]+;base64,([A-Za-z0-9+/=]+)/g)]
  check(pictures.length > 0, 'the report has no picture')
  check(pictures.every(([, text]) => !Buffer.from(text, 'base64').includes('Exif\0\0')), 'the report tells the place of a photograph')
}

/** What a reader sees of a page: its text, without marks and styles. */
function read(html) {
  const text = html.replace(/<(style|script|head)\b.*?<\/\1>/gs, ' ').replace(/<[^>]*>/g, ' ')
  const names = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'", nbsp: ' ' }
  return text.replace(/&(?:#x([\da-f]+)|#(\d+)|(\w+));/gi, (all, hex, number, name) =>
    hex ? String.fromCodePoint(parseInt(hex, 16)) : number ? String.fromCodePoint(Number(number)) : (names[name] ?? all)).replace(/\s+/g, ' ')
}
