// What the timeline shows, as lanes of bars: captures by place, stimuli and remarks, emissions.
import type { Row, Schemas } from '../api/client'
import type { Work } from '../lib/work.svelte'
import { state as stateWord } from '../lib/words'
import type { Line, State } from '../emissions/rows'
import type { View } from './axis'

/** Pairs of from and to, rising and apart. */
export type Spans = Float64Array
export type Looks = 'full' | 'hollow' | 'thin'
export type Lane = {
  key: string; label: string; note: string
  kind: 'capture' | 'said' | 'emission'
  bars: Spans
  /** A word a bar, in their order; none for an emission. */
  words: string[]
  /** How each is drawn: hollow where nobody was in the room, thin where nobody says how the room was. */
  looks: Looks[]
  /** When captures listened for it. */
  listened: Spans
  state: State | null
}
export type OnTimes = Schemas['RowTimes']

const ms = (time: string): number => Date.parse(time)

function flat(of: [number, number][]): Spans {
  const sorted = of.filter(([from, to]) => Number.isFinite(from) && Number.isFinite(to)).toSorted((a, b) => a[0] - b[0])
  const out: number[] = []
  for (const [from, to] of sorted) {
    const last = out.length - 1
    if (last > 0 && from <= (out[last] ?? 0)) out[last] = Math.max(out[last] ?? 0, to)
    else out.push(from, to)
  }
  return Float64Array.from(out)
}

type Stay = { place: string | null; from: number; to: number; word: string; looks: Looks; alone?: boolean }

/** Where captures were, when: at their position, or as movements of their chain cut them. */
function stays(work: Work): Stay[] {
  const conditions = new Map(work.record?.conditions.map((one) => [one.name, one.state]))
  return (work.ledger?.captures ?? []).flatMap((capture): Stay[] => {
    if (!capture.start || !capture.stop || capture.set_aside) return []
    const [from, to] = [ms(capture.start), ms(capture.stop)]
    const state = capture.condition ? conditions.get(capture.condition) : null
    const word = [capture.id, capture.condition ?? (capture.role === 'no-antenna' ? '' : stateWord(capture.role))].join(' ')
    const looks: Looks = state === 'empty' ? 'hollow' : state ? 'full' : 'thin'
    if (capture.position || capture.role === 'no-antenna') return [{ place: capture.position, from, to, word, looks, alone: capture.role === 'no-antenna' }]
    const moves = (work.record?.movements ?? []).filter((one) => !one.chain || one.chain === capture.chain)
      .map((one) => ({ place: one.position, at: ms(one.at) })).filter((one) => one.at < to).toSorted((a, b) => a.at - b.at)
    if (!moves.length) return [{ place: null, from, to, word, looks }]
    return moves.map((move, i) => ({ place: move.place, from: Math.max(from, move.at), to: Math.min(to, moves[i + 1]?.at ?? to), word, looks }))
      .filter((stay) => stay.to > stay.from)
  })
}

const ZONES = ['inside', 'adjacent', 'outside', 'moving']

export function captureLanes(work: Work): Lane[] {
  const places = new Map<string, Stay[]>()
  for (const stay of stays(work)) places.set(stay.place ?? '', [...(places.get(stay.place ?? '') ?? []), stay])
  const position = (id: string) => work.ledger?.positions.find((one) => one.id === id)
  return [...places].map(([id, of]): Lane => {
    const sorted = of.toSorted((a, b) => a.from - b.from)
    const place = position(id)
    return {
      key: `place ${id}`, kind: 'capture', label: place?.name ?? (sorted.every((one) => one.alone) ? 'No antenna' : 'No place said'), note: place?.zone ?? '', state: null,
      bars: Float64Array.from(sorted.flatMap((one) => [one.from, one.to])), words: sorted.map((one) => one.word),
      looks: sorted.map((one) => one.looks), listened: new Float64Array(),
    }
  }).toSorted((a, b) => ZONES.indexOf(a.note) - ZONES.indexOf(b.note) || a.label.localeCompare(b.label))
}

export function saidLanes(work: Work): Lane[] {
  const lane = (key: string, label: string, of: { from: number; to: number; word: string }[]): Lane[] => {
    const sorted = of.filter((one) => Number.isFinite(one.from)).toSorted((a, b) => a.from - b.from)
    return sorted.length ? [{ key, label, note: '', kind: 'said', state: null, looks: [], listened: new Float64Array(),
      bars: Float64Array.from(sorted.flatMap((one) => [one.from, one.to])), words: sorted.map((one) => one.word) }] : []
  }
  const record = work.record
  if (!record) return []
  return [
    ...lane('stimuli', 'Stimuli', record.stimuli.map((one) => ({ from: ms(one.from), to: ms(one.until ?? one.from), word: one.what }))),
    ...lane('remarks', 'Remarks', record.remarks.map((one) => ({ from: ms(one.at ?? ''), to: ms(one.until ?? one.at ?? ''), word: one.text }))),
    ...lane('found', 'Found items', record.found_items.map((one) => ({ from: ms(one.found_at ?? ''), to: ms(one.found_at ?? ''), word: `${one.id} ${one.what}` }))),
  ]
}

/** A lane an emission; on-times as the server tells them, else from first to last heard. `part`: they
 * were asked for a part of the time. */
export function emissionLanes(work: Work, lines: Line[], times: Map<string, OnTimes> | null, part = false): Lane[] {
  const spans = new Map(work.ledger?.captures.flatMap((one) => (one.start && one.stop ? [[one.id, [ms(one.start), ms(one.stop)] as [number, number]]] : [])))
  return lines.map((line): Lane => ({
    key: line.id, label: line.frequency, note: line.id, kind: 'emission', state: line.state, words: [], looks: [],
    bars: flat(onOf(line.row, times?.get(line.id) ?? null, part)),
    listened: flat(line.row.receptions.flatMap((one) => (spans.has(one.capture) ? [spans.get(one.capture)!] : []))),
  }))
}

function onOf(row: Row, times: OnTimes | null, part: boolean): [number, number][] {
  const heard = times?.heard ?? []
  const told = new Set(heard.filter((one) => one.on.length || part).map((one) => whole(one.capture)))
  const out: [number, number][] = []
  for (const one of heard) for (const [from, to] of one.on) out.push([ms(from), ms(to)])
  // Over the whole, a capture that tells no on-times has none to tell; in a part of it, it was silent.
  for (const one of row.receptions) {
    if (one.heard && one.first && !told.has(one.capture)) out.push([ms(one.first), ms(one.last ?? one.first)])
  }
  return out
}

/** From the first to the last of everything, with a little air; null where nothing has a time. */
export function boundsOf(lanes: Lane[]): View | null {
  let [from, to] = [Infinity, -Infinity]
  for (const { bars, listened } of lanes) {
    for (const spans of [bars, listened]) for (const time of spans) { from = Math.min(from, time); to = Math.max(to, time) }
  }
  if (from > to) return null
  const air = Math.max(1000, (to - from) * 0.02)
  return { from: from - air, to: to + air }
}

/** Ids of captures that count and have no time, so that they are in no lane. */
export function undated(work: Work): string[] {
  const without = (work.ledger?.captures ?? []).filter((one) => !one.set_aside && (!one.start || !one.stop))
  return [...new Set(without.map((one) => whole(one.id)))]
}

/** A part of a capture that movements cut is named after it: C16.2. */
const whole = (part: string): string => part.split('.')[0] ?? part

/** Empty time of this length parts one stretch from the next: longer than a pause of a night's work. */
const APART_MS = 12 * 3600e3

/** The stretches of time in which anything is, where more than half of the whole is empty between them. */
export function stretches(lanes: Lane[], bounds: View): View[] {
  const spans = lanes.flatMap(({ bars, listened }) => [bars, listened])
    .flatMap((of) => Array.from({ length: of.length / 2 }, (_, n): View => ({ from: of[2 * n] ?? 0, to: of[2 * n + 1] ?? 0 })))
    .sort((a, b) => a.from - b.from)
  const out: View[] = []
  for (const { from, to } of spans) {
    const last = out.at(-1)
    if (last && from <= last.to + APART_MS) last.to = Math.max(last.to, to)
    else out.push({ from, to })
  }
  const filled = out.reduce((sum, { from, to }) => sum + to - from, 0)
  return out.length < 2 || filled > (bounds.to - bounds.from) / 2 ? [] : out
}

/** A stretch with a little air about it; a moment with a minute. */
export function airy({ from, to }: View): View {
  const air = Math.max(60e3, (to - from) * 0.02)
  return { from: from - air, to: to + air }
}

/** Index of the first pair that ends after a time. */
export function firstAfter(spans: Spans, time: number): number {
  let [low, high] = [0, spans.length / 2]
  while (low < high) {
    const middle = (low + high) >> 1
    if ((spans[2 * middle + 1] ?? 0) < time) low = middle + 1
    else high = middle
  }
  return low
}
