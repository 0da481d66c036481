// What is noted by hand: sent one by one, listed together.
import { api, got, type Schemas, type Survey } from '../api/client'
import { bandText } from '../lib/bands'
import { clock } from '../lib/clock'
import { decibels, hertz } from '../lib/words'
import { who, type Work } from '../lib/work.svelte'

export type Note = Schemas['Note']

/** Notes something; gives its id. */
export async function noted(work: Work, note: Note): Promise<string> {
  const query = who.name ? { by: who.name } : {}
  const { id } = await got(api.POST('/api/surveys/{survey}/notes', { params: { path: work.path, query }, body: { note } }))
  await work.reread()
  return id
}

/** `433.92 MHz`, or `380–470 MHz`. */
export const bandOf = (band: Schemas['Band']): string => (band.low_hz === band.high_hz ? hertz(band.low_hz, 7) : bandText(band))

export function strengthOf(reading: Schemas['Reading']): string {
  if (reading.strength) return `${reading.strength.value} of ${reading.strength.of}`
  return reading.level_dbm === null ? '' : decibels(reading.level_dbm, 'dBm', 1)
}

/** One note as a line: when, of what kind, what it says. */
export type Line = { id: string; at: string; kind: string; text: string; position: string | null }

/** All notes, the latest first. */
export function lines(record: Survey, zone: string): Line[] {
  const readings = record.readings.map((one) => ({
    id: one.id, at: one.at ?? '', kind: 'reading', position: one.position,
    text: [
      one.emission ?? (one.band ? bandOf(one.band) : ''), strengthOf(one),
      one.bearing_deg === null ? '' : `bearing ${one.bearing_deg}°`, one.heard ?? '',
    ].filter(Boolean).join(', '),
  }))
  const stimuli = record.stimuli.map((one) => ({
    id: one.id, at: one.from, kind: 'stimulus', position: one.position,
    text: one.until ? `${one.what}, until ${clock(one.until, zone)}` : one.what,
  }))
  const remarks = record.remarks.map((one) => ({ id: one.id, at: one.at ?? '', kind: 'remark', position: one.position, text: one.text }))
  const movements = record.movements.map((one) => ({
    id: one.id, at: one.at, kind: 'arrived', position: one.position, text: one.chain ? `with ${one.chain}` : '',
  }))
  return [...readings, ...stimuli, ...remarks, ...movements].sort((a, b) => Date.parse(b.at) - Date.parse(a.at))
}
