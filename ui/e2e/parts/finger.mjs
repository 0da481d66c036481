// A person with a tablet in one hand: everything is tapped, and every target is large enough for a glove.

/** The least side of what is tapped, pixels (common practice for touch; WCAG 2.2, 2.5.5). */
const LEAST = 44

export async function finger(page, context, check) {
  // Listened to all the time, so that the system's chooser never opens.
  page.on('filechooser', () => {})
  const touch = await context.newCDPSession(page)
  async function tap(x, y) {
    await touch.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [{ x, y }] })
    await touch.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] })
    await page.waitForTimeout(40)
  }
  /** Where the target of an element is: its label's, where it has one around it. */
  async function target(what) {
    await what.waitFor({ state: 'attached' })
    await what.evaluate((element) => (element.closest('label') ?? element).scrollIntoView({ block: 'center', inline: 'nearest' }))
    const box = await what.evaluate((element) => {
      const ticked = element.matches('input[type=radio], input[type=checkbox], input[type=file]')
      const of = ticked ? (element.closest('label') ?? document.querySelector(`label[for="${element.id}"]`) ?? element) : element
      const { x, y, width, height } = of.getBoundingClientRect()
      const hit = document.elementFromPoint(x + width / 2, y + height / 2)
      const reached = hit !== null && (of.contains(hit) || hit.contains(of))
      return { x, y, width, height, reached, hit: hit?.outerHTML.slice(0, 80) }
    })
    // Half a pixel is lost to rounding.
    check(box.width >= LEAST - 0.5 && box.height >= LEAST - 0.5, `a target of ${box.width} by ${box.height} px: ${what}`)
    check(box.reached, `a tap on ${what} meets ${box.hit}`)
    return [box.x + box.width / 2, box.y + box.height / 2]
  }
  const press = async (what) => tap(...(await target(what)))
  return {
    press,
    at: tap,
    tick: press,
    pick: async (what) => {
      await press(what)
      check(await what.isChecked(), `a tap does not choose ${what}`)
    },
    write: async (what, text) => {
      // What comes meanwhile may move a field from under the finger: then it is tapped once more.
      for (let tries = 0; tries < 3; tries += 1) {
        await press(what)
        if (await what.evaluate((element) => element === document.activeElement)) break
      }
      await page.keyboard.press('Control+a')
      if (!text) await page.keyboard.press('Delete')
      await page.keyboard.type(text)
    },
    /** The list itself is the system's; that it can be tapped is the page's. */
    choose: async (what, label) => {
      await target(what)
      const labels = await what.evaluate((element) => [...element.options].map((one) => one.label))
      const of = labels.find((one) => label.test(one))
      check(of !== undefined, `no choice of ${what} is ${label}`)
      await what.selectOption({ label: of })
    },
    open: (id) => press(page.locator(`tr[data-row="${id}"] a`)),
    go: async (title) => {
      await press(page.getByRole('navigation', { name: 'Pages' }).getByRole('link', { name: title, exact: true }))
      await page.getByRole('heading', { level: 1, name: title, exact: true }).waitFor()
    },
    /** Corners in steps of 40 pixels from the middle. */
    draw: async (plan, corners) => {
      const box = await plan.boundingBox()
      for (const [x, y] of corners) await tap(box.x + box.width / 2 + 40 * x, box.y + box.height / 2 + 40 * y)
    },
    files: async (what, files) => {
      const [x, y] = await target(what)
      const asked = page.waitForEvent('filechooser')
      await tap(x, y)
      await (await asked).setFiles(files)
    },
  }
}
