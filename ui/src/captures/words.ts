// Captures in people's words, and what is said of one.
import type { Capture, Schemas } from '../api/client'
import type { Field } from '../lib/fields'
import type { Work } from '../lib/work.svelte'

export const KINDS: Record<string, string> = {
  iq: 'IQ recording', traces: 'swept spectra', frames: 'frames', 'event-log': 'event log', readings: 'readings', sound: 'sound',
}

export const ROLES: readonly { role: Schemas['Role']; word: string; what: string }[] = [
  { role: 'reference', word: 'Reference', what: 'outside, the corridor, the floor above or below' },
  { role: 'room', word: 'Room', what: 'in a place that is searched' },
  { role: 'walk', word: 'Walk', what: 'carried about; movements say where' },
  { role: 'check', word: 'Check', what: 'of a known test sender' },
  { role: 'no-antenna', word: 'No antenna', what: 'the receiver’s own lines' },
]
export const roleWord = (role: string) => ROLES.find((one) => one.role === role)?.word ?? role

export const ZONES = [['inside', 'inside'], ['adjacent', 'adjacent: corridor, next flat, floor above'], ['outside', 'outside'], ['moving', 'moving: a vehicle']] as const

/** The end of a capture, by its own clock as corrected. */
export function span(capture: Capture): { start: string | null; stop: string | null } {
  const at = (time: string | null | undefined, add: number) => (time ? new Date(Date.parse(time) + add * 1000).toISOString() : null)
  const log = capture.from && capture.until
  return log
    ? { start: capture.from ?? null, stop: capture.until ?? null }
    : { start: at(capture.start, capture.clock_s), stop: at(capture.start, capture.clock_s + capture.duration_s) }
}

export function positionOf(work: Work, id: string | null | undefined) {
  return work.record?.positions.find((one) => one.id === id)
}

/** What is said of a capture, for a form; logs are told apart because their time and bands are a person's to say. */
export function said(work: Work, log: boolean, fresh: boolean): Field[] {
  const record = work.record
  const names = (all: readonly { name: string }[] | undefined) => (all ?? []).map((one) => one.name)
  return [
    { key: 'at', label: 'Position', names: names(record?.positions), hint: 'One that is known, or a new name.' },
    ...(fresh ? [{ key: 'zone', label: 'Zone of the new position', kind: 'choice', choices: ZONES } as Field] : []),
    { key: 'chain', label: 'Chain', names: names(record?.chains), hint: 'Receiver to antenna, under your own name.' },
    { key: 'gain_db', label: 'Gain ahead of the converter', kind: 'number', unit: 'dB' },
    { key: 'condition', label: 'Condition', names: ['empty', 'in use', 'meeting', 'known sound', ...names(record?.conditions)].filter((one, i, all) => all.indexOf(one) === i), hint: 'How the room was.' },
    { key: 'setting', label: 'Setting', hint: 'One that changes what levels mean.' },
    ...(log ? LOG : []),
  ]
}
const LOG: Field[] = [
  { key: 'from', label: 'Listened from', kind: 'time', hint: 'First to last event, and said to be assumed, without.' },
  { key: 'until', label: 'Listened until', kind: 'time' },
  { key: 'bands', label: 'Bands listened to', kind: 'bands', hint: 'As 863–870 MHz, 2.4–2.5 GHz. Only there does ‘not heard’ count.' },
]
