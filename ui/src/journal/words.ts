// Entries of the journal in words: what was done, to which things.
import { moment } from '../lib/clock'
import type { Entry } from '../lib/journal'
import { bandText, type Band } from '../lib/bands'
import { hertz } from '../lib/words'

export type Told = { seq: number; time: string; by: string; kind: string; what: string; parts: string[]; hash: string; own: boolean; search: string }
type Thing = Record<string, unknown>
type Seen = { receptions: { centre_hz: number }[] }
type Change = { kind: string; id: string; was?: Thing | null; is?: Thing | null }

const DONE: Record<string, string> = {
  new: 'Started the survey', add: 'Brought in', derive: 'Analysed', ids: 'Gave ids', note: 'Noted', describe: 'Wrote', amend: 'Corrected',
  decide: 'Decided', join: 'Put together', split: 'Took apart', undo: 'Took back', photograph: 'Kept a photograph of', condition: 'Wrote', position: 'Wrote', chain: 'Wrote',
}
/** What the program does of itself. */
const OWN = ['derive', 'ids']

export function told(entry: Entry, zone: string): Told {
  let body: { changes?: Change[] } & Thing = {}
  try {
    body = JSON.parse(entry.body) as typeof body
  } catch {
    body = {}
  }
  const changes = body.changes ?? []
  const verb = DONE[entry.kind] ?? entry.kind.replaceAll('-', ' ')
  const undone = entry.kind === 'undo' && typeof body.undoes === 'number' ? ` entry ${body.undoes}` : ''
  const named = changes.slice(0, 3).map((change) => thing(change)).filter(Boolean).join('; ')
  const more = changes.length > 3 ? ` and ${changes.length - 3} more` : ''
  const what = `${verb}${undone}${named ? ` ${named}` : ''}${more}`
  const although = Array.isArray(body.although) ? body.although.map((one) => `although ${String(one)}`) : []
  const parts = [...changes.flatMap((change) => difference(change, zone)), ...although].slice(0, 40)
  const { seq, time, by, kind, hash } = entry
  return { seq, time, by, kind, what, parts, hash, own: OWN.includes(kind), search: `${seq} ${by} ${kind} ${what} ${parts.join(' ')}`.toLowerCase() }
}

function act(change: Change): Thing | null {
  const stored = (change.is ?? change.was)?.act as Thing | undefined
  return (stored?.what as Thing | undefined) ?? null
}

/** Where in frequency a row was, as the person saw it; some logs name none. */
function at(seen: Seen): string {
  const centres = seen.receptions.map((one) => one.centre_hz).sort((a, b) => a - b)
  const middle = centres[Math.floor(centres.length / 2)]
  return middle ? ` at ${hertz(middle)}` : ''
}

function thing(change: Change): string {
  if (change.kind === 'act') {
    const what = act(change)
    if (!what) return ''
    if (what.act === 'decide') return `${what.id}: ${String(what.state ?? '').replaceAll('-', ' ')}${what.ground ? `, ${String(what.ground).replaceAll('-', ' ')}` : ''}`
    const why = what.reason ? ` (${short(String(what.reason))})` : ''
    if (what.act === 'join') return (what.rows as [string, Seen][]).map(([id, seen]) => `${id}${at(seen)}`).join(' and ') + why
    if (what.act === 'split') return `${what.id}${at(what.seen as Seen)}: what ${(what.captures as string[]).join(', ')} received is ${what.new_id}${why}`
    return typeof what.id === 'string' ? what.id : ''
  }
  if (change.kind === 'survey') return ''
  const is = change.is ?? change.was ?? {}
  const name = ['name', 'what', 'text', 'who', 'leaked'].map((key) => is[key]).find((one) => typeof one === 'string')
  const own = ['brief', 'premises', 'statement'].includes(change.id)
  const word = change.kind === 'derivation' ? '' : `${change.kind.replaceAll('-', ' ')} `
  const end = change.was && !change.is ? ' (taken out)' : ''
  return `${word}${own ? '' : change.id}${name && !own ? ` ‘${short(String(name))}’` : ''}${end}`.trim()
}

function difference(change: Change, zone: string): string[] {
  if (change.kind === 'act') {
    const what = act(change)
    return what?.reason ? [`reason: ${String(what.reason)}`] : []
  }
  if (change.kind === 'derivation' || change.kind === 'ids') return []
  const [was, is] = [change.was ?? {}, change.is ?? {}]
  const keys = [...new Set([...Object.keys(was), ...Object.keys(is)])].filter((key) => key !== 'id')
  return keys.filter((key) => JSON.stringify(was[key]) !== JSON.stringify(is[key])).map((key) => {
    const now = value(is[key], zone)
    const before = value(was[key], zone)
    const word = key.replace(/_(db|s|m|hz|ppm)$/, '').replaceAll('_', ' ')
    return before && change.was ? `${word}: ${before} → ${now || 'nothing'}` : now ? `${word}: ${now}` : ''
  }).filter(Boolean)
}

function value(of: unknown, zone: string): string {
  if (of === null || of === undefined || of === '') return ''
  if (typeof of === 'string') return /^\d{4}-\d\d-\d\dT[\d:.]+Z$/.test(of) ? moment(of, zone, true) : short(of, 120)
  if (typeof of !== 'object') return String(of)
  if (Array.isArray(of)) return of.length > 8 ? `${of.length} values` : of.map((one) => value(one, zone)).join(', ')
  if ('low_hz' in of && 'high_hz' in of) return bandText(of as Band)
  if ('name' in of) return String(of.name)
  return Object.entries(of).filter(([, one]) => one !== null).map(([key, one]) => `${key.replaceAll('_', ' ')} ${value(one, zone)}`).join(', ')
}

const short = (text: string, most = 60) => (text.length > most ? `${text.slice(0, most - 1)}…` : text)
