// Where in the page one is: `#/` lists the surveys, `#/s/NAME/PAGE/ID` is one page of one survey. The
// address never leaves the machine, and holds nothing but names of folders and ids.
import { unsaved } from './unsaved.svelte'

export const PAGES = [
  'survey', 'premises', 'captures', 'spectrum', 'emissions', 'timeline', 'coverage', 'journal', 'report',
] as const
export type Page = (typeof PAGES)[number]

export type Route = { survey: string | null; page: Page; id: string | null; query: URLSearchParams }

export function parse(hash: string): Route {
  const [path = '', query = ''] = hash.replace(/^#/, '').split('?')
  const parts = path.split('/').filter(Boolean).map(decode)
  if (parts[0] !== 's' || !parts[1]) {
    return { survey: null, page: 'survey', id: null, query: new URLSearchParams(query) }
  }
  const page = PAGES.find((known) => known === parts[2]) ?? 'survey'
  return { survey: parts[1], page, id: parts[3] ?? null, query: new URLSearchParams(query) }
}

function decode(part: string): string {
  try {
    return decodeURIComponent(part)
  } catch {
    return part
  }
}

/** The address of a page. */
export function to(survey: string, page: Page = 'survey', id?: string, query?: Record<string, string>): string {
  const more = query ? `?${new URLSearchParams(query)}` : ''
  const path = ['s', survey, page, ...(id ? [id] : [])].map(encodeURIComponent).join('/')
  return `#/${path}${more}`
}

export function go(hash: string): void {
  location.hash = hash
}

class Here {
  route = $state.raw<Route>(parse(location.hash))
  #hash = location.hash
  constructor() {
    addEventListener('hashchange', () => {
      const next = parse(location.hash)
      if (unsaved.lets(this.route, next, location.hash)) {
        this.#hash = location.hash
        this.route = next
      } else history.pushState(null, '', this.#hash || '#/')
    })
  }
}
export const here = new Here()
