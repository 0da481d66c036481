// Which recordings can be looked at, and which may be laid under another.
import type { Ledger } from '../api/client'
import { clock } from '../lib/clock'
import type { Work } from '../lib/work.svelte'

export type Choice = Ledger['captures'][number]

/** What has a spectrum: samples and swept spectra that count. */
export function choices(captures: readonly Choice[]): Choice[] {
  return captures.filter((one) => (one.kind === 'iq' || one.kind === 'traces') && one.set_aside === null)
}

/** Whether a recording may be laid under another: a reference, or what the receiver makes itself, of the
 * same kind, that listened in some of its bands. */
function suits(one: Choice, under: Choice): boolean {
  if (one.id === under.id || one.kind !== under.kind) return false
  if (one.role !== 'reference' && one.role !== 'no-antenna') return false
  return one.listened.some((a) => under.listened.some((b) => a.low_hz < b.high_hz && b.low_hz < a.high_hz))
}

/** What may be laid under a recording, what suits it best first: its own chain, a reference. */
export function referencesOf(under: Choice, all: readonly Choice[]): Choice[] {
  const worth = (one: Choice) => (one.chain === under.chain ? 2 : 0) + (one.role === 'reference' ? 1 : 0)
  return all.filter((one) => suits(one, under)).sort((a, b) => worth(b) - worth(a))
}

/** `C2 room, boardroom, 20:25:00`. */
export function nameOf(one: Choice, work: Work): string {
  const place = work.ledger?.positions.find((position) => position.id === one.position)?.name
  const at = one.start ? clock(one.start, work.zone) : null
  return [`${one.id} ${one.role}`, place, at].filter(Boolean).join(', ')
}

/** Where the server tells of a recording's spectrum. */
export const pathOf = (survey: string, capture: string): string =>
  `/api/surveys/${encodeURIComponent(survey)}/captures/${encodeURIComponent(capture)}/spectrum`
