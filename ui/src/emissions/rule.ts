// Rules by which several rows are decided at once. A rule's words become part of the reason, so that
// whoever reads it later knows which rows were taken, and how.
import type { Line, State } from './rows'
import { spanOf } from './rows'
import { counted, decibels, hertz } from '../lib/words'
import type { Schemas } from '../api/client'

export type Ground = Schemas['Ground']

export type Rule =
  | { kind: 'marked'; ids: string[] }
  | { kind: 'excess'; below_db: number }
  | { kind: 'band'; text: string }
  | { kind: 'service'; text: string }
  | { kind: 'receiver' }
  | { kind: 'unlikely' }

export const GROUNDS: { ground: Ground; words: string }[] = [
  { ground: 'seen', words: 'the transmitter was seen' },
  { ground: 'switched-off', words: 'it was switched off, and the emission stopped' },
  { ground: 'stronger-outside', words: 'stronger outside than inside' },
  { ground: 'decoded', words: 'its public framing says what it is' },
  { ground: 'own-kit', words: "the technician's own kit" },
  { ground: 'receiver-own', words: "the receiver's own line" },
  { ground: 'inferred', words: 'inferred; nothing else confirms it' },
]

/** What a rule says, to be followed by why: `all open rows whose excess … is below −6 dB`. */
export function words(rule: Rule): string {
  switch (rule.kind) {
    case 'marked': return `rows marked by hand (${rule.ids.join(', ')})`
    case 'excess': return `all open rows heard at a reference whose excess over it is below ${decibels(rule.below_db)}`
    case 'band': {
      const span = spanOf(rule.text)
      return span ? `all open rows wholly within ${hertz(span[0])} to ${hertz(span[1])}` : 'all open rows within a band'
    }
    case 'service': return `all open rows in an allocation that names ‘${rule.text.trim()}’`
    case 'receiver': return 'all open rows that the receiver shows with no antenna connected'
    case 'unlikely': return 'all open rows whose place inside is very unlikely (probability under 0.05)'
  }
}

/** The rows that a rule takes: only open ones, but for rows marked by hand. */
export function taken(rule: Rule, lines: Line[]): Line[] {
  if (rule.kind === 'marked') return lines.filter((line) => rule.ids.includes(line.id))
  const open = lines.filter((line) => line.state === 'open')
  switch (rule.kind) {
    case 'excess':
      return open.filter(({ row }) => row.origin.excess_db !== null && row.origin.excess_db < rule.below_db && !row.origin.excess_at_least)
    case 'band': {
      const span = spanOf(rule.text)
      return span ? open.filter(({ row }) => row.low_hz >= span[0] && row.high_hz <= span[1]) : []
    }
    case 'service': {
      const text = rule.text.trim().toLowerCase()
      return text ? open.filter(({ row }) => row.allocations.some((one) => one.service.toLowerCase().includes(text))) : []
    }
    case 'receiver': return open.filter(({ row }) => row.receiver_line !== null)
    case 'unlikely': return open.filter(({ row }) => row.origin.p_inside !== null && row.origin.p_inside < 0.05)
  }
}

/** Whether the levels themselves speak against a ground; the program refuses it then. */
export const isAgainst = (ground: Ground | null, { row }: Line) => ground === 'stronger-outside' && (row.origin.excess_db ?? 0) > 0

/** The reason as it is written: the rule, how many rows it took, then the person's words. */
export function reasonBy(rule: Rule, count: number, typed: string): string {
  return `By rule: ${words(rule)} (${counted(count, 'row')} together). ${typed.trim()}`
}

export type Verdict = { state: State; ground: Ground | null; reason: string }
/** A verdict that is being written: its state is for a person to choose, so that none stands chosen. */
export type Choosing = Omit<Verdict, 'state'> & { state: State | null }
export const UNDECIDED: Choosing = { state: null, ground: null, reason: '' }
/** What was chosen; null while no state is. */
export const chosen = ({ state, ...rest }: Choosing): Verdict | null => (state ? { state, ...rest } : null)

/** What the measurements alone would say of a row; a person may take it, change it or leave it. */
export function suggestion(line: Line): (Verdict & { state: State }) | null {
  const reasons = line.row.attention.reasons
  const text = (code: string) => reasons.find((one) => one.code === code)?.text
  if (line.row.receiver_line) return { state: 'accounted', ground: 'receiver-own', reason: text('receiver_own') ?? `seen with no antenna connected (${line.row.receiver_line})` }
  const p = line.row.origin.p_inside
  const outside = text('stronger_outside')
  if (outside && p !== null && p < 0.05) return { state: 'accounted', ground: 'stronger-outside', reason: outside }
  const own = text('known_device')
  if (own) return { state: 'accounted', ground: 'inferred', reason: own }
  const inside = text('with_the_room') ?? text('only_inside')
  if (inside && p !== null && p >= 0.67) return { state: 'suspect', ground: null, reason: inside }
  return null
}
