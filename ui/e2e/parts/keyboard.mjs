// A person at a desk with a keyboard alone: every element is reached by Tab, nothing by a pointer.

/** In the order of their numbers, which each keeps whether or not there is a spectrum to show. */
const PAGES = ['Survey', 'Premises', 'Captures', 'Spectrum', 'Emissions', 'Timeline', 'Coverage', 'Journal', 'Report']
/** How often Tab may be pressed for one element. */
const MOST_TABS = 150

export function keyboard(page, check) {
  // Listened to all the time, so that the system's chooser never opens.
  page.on('filechooser', () => {})
  const key = (name) => page.keyboard.press(name)
  const has = (what) => what.evaluate((element) => element === document.activeElement)

  async function reach(what) {
    await what.waitFor()
    for (let n = 0; n < MOST_TABS; n++) {
      if (await has(what)) return
      await key('Tab')
    }
    check(false, `Tab does not reach ${what}`)
  }
  /** Out of a field that is typed into, where letters are no keys of the page. */
  async function leave() {
    for (let n = 0; n < 9 && (await page.evaluate(() => document.activeElement?.matches('input, textarea, select'))); n++) await key('Tab')
  }
  /** What a choice shows now. */
  const chosen = (what) => what.evaluate((element) => element.selectedOptions[0]?.label ?? '')

  return {
    /** A key of the page itself. */
    key: async (name) => {
      await leave()
      await key(name)
    },
    press: async (what) => {
      await reach(what)
      await key('Enter')
    },
    tick: async (what) => {
      await reach(what)
      await key('Space')
    },
    /** Radio buttons of one name are one stop of Tab; arrows go among them. */
    pick: async (what) => {
      await what.waitFor()
      const name = await what.getAttribute('name')
      const group = what.page().locator(`${(await inDialog(page)) ? 'dialog ' : ''}input[type=radio]${name ? `[name="${name}"]` : ''}`)
      const stop = await group.evaluateAll((all) => Math.max(0, all.findIndex((one) => one.checked)))
      await reach(group.nth(stop))
      for (let n = 0; n < 20 && !(await has(what)); n++) await key('ArrowDown')
      if (!(await what.isChecked())) await key('Space')
      check(await what.isChecked(), `arrows do not choose ${what}`)
    },
    write: async (what, text) => {
      await reach(what)
      await key('Control+a')
      if (!text) await key('Delete')
      await page.keyboard.type(text)
    },
    choose: async (what, label) => {
      await reach(what)
      const before = await what.evaluate((element) => element.selectedIndex)
      const to = await what.evaluate((element, of) => [...element.options].findIndex((one) => new RegExp(of).test(one.label)), label.source)
      for (let n = 0; n < Math.abs(to - before); n++) await key(to > before ? 'ArrowDown' : 'ArrowUp')
      check(label.test(await chosen(what)), `no choice of ${what} is ${label}`)
    },
    /** A row of the ledger, by the keys that move in it. */
    open: async (id) => {
      await key('Home')
      for (let n = 0; n < MOST_TABS && (await page.locator('tr.cursor').getAttribute('data-row')) !== id; n++) await key('j')
      await key('Enter')
    },
    /** By its number; a field that is typed into is left first. */
    go: async (title) => {
      await leave()
      await key(String(PAGES.indexOf(title) + 1))
      await page.getByRole('heading', { level: 1, name: title, exact: true }).waitFor()
    },
    /** Corners in steps of 40 pixels from the middle: the plan is moved under its cross. */
    draw: async (plan, corners) => {
      await reach(plan)
      let [right, down] = [0, 0]
      const move = async (by, [forth, back]) => {
        for (let n = 0; n < Math.abs(by); n++) await key(by > 0 ? forth : back)
      }
      for (const [x, y] of corners) {
        await move(x - right, ['ArrowRight', 'ArrowLeft'])
        await move(y - down, ['ArrowDown', 'ArrowUp'])
        await key('Enter')
        ;[right, down] = [x, y]
      }
    },
    /** By the page's own key for it, where there is one. */
    files: async (what, files, by) => {
      if (by) await leave()
      else await reach(what)
      const asked = page.waitForEvent('filechooser')
      await key(by ?? 'Enter')
      await (await asked).setFiles(files)
    },
  }
}

const inDialog = (page) => page.evaluate(() => document.querySelector('dialog[open]') !== null)
