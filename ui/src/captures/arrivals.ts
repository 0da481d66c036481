// Names of what is on its way in, remembered by this tab alone: when the page is read anew it can say
// which files did not come whole. Nothing of it outlives the tab.
export type Arrival = { name: string; bytes: number }

export class Arrivals {
  readonly #key: string
  constructor(survey: string) {
    this.#key = `arrivals of ${survey}`
  }
  get all(): Arrival[] {
    return JSON.parse(sessionStorage.getItem(this.#key) ?? '[]') as Arrival[]
  }
  set all(files: Arrival[]) {
    if (files.length) sessionStorage.setItem(this.#key, JSON.stringify(files))
    else sessionStorage.removeItem(this.#key)
  }
}
