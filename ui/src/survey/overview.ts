// The survey at one glance, as the server tells it, with the words of the page.
import { to, type Page } from '../lib/route.svelte'
import type { Schemas } from '../api/client'

export type Overview = Schemas['Overview']
export type Step = Schemas['Step']

/** Each stage: its title, and where it is worked on. */
export const STAGES: Record<Schemas['StageName'], { title: string; page: Page }> = {
  brief: { title: 'The brief', page: 'survey' },
  authority: { title: 'Authority', page: 'survey' },
  'known-devices': { title: 'Known devices', page: 'survey' },
  'equipment-check': { title: 'Equipment check', page: 'captures' },
  references: { title: 'References', page: 'captures' },
  'no-antenna': { title: 'No antenna', page: 'captures' },
  rooms: { title: 'Rooms', page: 'captures' },
  search: { title: 'Search by hand', page: 'premises' },
  decisions: { title: 'Decisions', page: 'emissions' },
  report: { title: 'Report', page: 'report' },
}

/** Each standing: a shape and a word, since neither alone is seen by everyone. */
export const STANDINGS: Record<Schemas['StageState'], { shape: string; word: string }> = {
  missing: { shape: '○', word: 'not yet' },
  part: { shape: '◐', word: 'in part' },
  done: { shape: '●', word: 'done' },
  'not-needed': { shape: '–', word: 'not needed' },
}

/** Where a step is taken. */
export function leads(survey: string, step: Step): string {
  if (step.kind.startsWith('record-')) return to(survey, 'captures')
  return to(survey, 'emissions', step.rows.length === 1 ? step.rows[0] : undefined)
}

/** A step as a sentence. */
export function sentence(text: string): string {
  const whole = text.charAt(0).toUpperCase() + text.slice(1)
  return /[.!?]$/.test(whole) ? whole : `${whole}.`
}
