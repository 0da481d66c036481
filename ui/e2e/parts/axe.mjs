// Axe finds nothing serious in what is shown.
import { createRequire } from 'node:module'
import { readFileSync } from 'node:fs'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

/** Judges the page as it stands. */
export async function judged(page, view, check) {
  // Evaluated by the browser itself, so that the content-security policy has no say.
  const found = await page.evaluate(`(() => { const module = undefined, exports = undefined; ${axe}; return axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] }) })()`)
  const serious = found.violations.filter((one) => ['serious', 'critical'].includes(one.impact))
  check(serious.length === 0, `${view}: ${serious.map((one) => `${one.id}: ${one.nodes.map((node) => node.html).join(' ')}`).join('; ')}`)
}

/** Judges it in both lights, and takes a picture of each. */
export async function sound(page, view, check, picture) {
  const before = await page.evaluate(() => document.documentElement.dataset.light)
  for (const light of ['light', 'dark']) {
    await page.evaluate((value) => (document.documentElement.dataset.light = value), light)
    // Colours turn over a tenth of a second.
    await page.waitForTimeout(250)
    await picture(`${view}-${light}`, page)
    await judged(page, `${view} (${light})`, check)
  }
  await page.evaluate((value) => (document.documentElement.dataset.light = value), before)
}
