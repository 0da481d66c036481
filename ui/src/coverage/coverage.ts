// What was listened to, as the server tells it, and in words what a survey of that cannot say.
import type { Schemas } from '../api/client'
import { hertz, lasting } from '../lib/words'

export type Covered = Schemas['Covered']
export type CheckHeard = Schemas['CheckHeard']
export type Coverage = Schemas['Coverage']

export type Place = { name: string; zone: string; inside: boolean; bands: Covered[] }

/** By place, in the order told. */
export function places(covered: readonly Covered[]): Place[] {
  const all: Place[] = []
  for (const one of covered) {
    const place = all.find((other) => other.name === one.place && other.zone === one.zone)
    if (place) place.bands.push(one)
    else all.push({ name: one.place, zone: one.zone, inside: one.inside, bands: [one] })
  }
  return all
}

const listed = (names: readonly string[]) => (names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`)

/** What this survey cannot say, a sentence or two each. */
export function limits(coverage: Coverage): string[] {
  const inside = places(coverage.covered.filter((one) => one.inside))
  const said: string[] = []
  const longest = inside.flatMap(({ name, bands }) => {
    const whole = bands.filter((band) => band.band_hz && !band.in_turns).map((band) => band.longest_s)
    return whole.length ? [`${name} ${lasting(Math.max(...whole))}`] : []
  })
  const silent = 'A device silent for longer than the longest listening was not covered'
  if (!inside.length) said.push('No room was listened to: this survey says nothing of any.')
  else if (longest.length) said.push(`${silent}. The longest, in any band: ${longest.join(', ')}.`)
  else said.push(`${silent}, and no band of any room was listened to without a gap.`)
  const turns = inside.filter(({ bands }) => bands.some((band) => band.in_turns)).map((one) => one.name)
  if (turns.length) said.push(`In ${listed(turns)} bands were looked at in turns: a burst shorter than a turn may have fallen between two.`)
  if (coverage.rooms_not_heard.length) said.push(`Nothing was measured in ${listed(coverage.rooms_not_heard)}: a transmitter there that is too weak to be received next door was not covered.`)
  const unknown = inside.filter(({ bands }) => bands.some((band) => !band.band_hz)).map((one) => one.name)
  if (unknown.length) said.push(`In ${listed(unknown)} it is not stated to which bands a detector listened, so ‘not heard’ there counts for none.`)
  const empty = inside.filter(({ bands }) => bands.every((band) => band.conditions.every((c) => c.name === 'empty' || c.name === null))).map((one) => one.name)
  if (empty.length) said.push(`${listed(empty)}: never listened to in use. A device switched on by voice or presence may have stayed silent.`)
  const known = coverage.covered.filter((one) => one.inside && one.band_hz)
  if (known.length) said.push(`Below ${hertz(Math.min(...known.map((one) => one.band_hz?.[0] ?? 0)), 3)} and above ${hertz(Math.max(...known.map((one) => one.band_hz?.[1] ?? 0)), 3)} nothing was listened to in a room; between, only the bands of the table.`)
  if (!coverage.checks.length) said.push('No known test sender was received, so the limits stand on calculation alone.')
  said.push('A device that only stores what it hears, or sends later, or by wire or light, radiates nothing that these measurements could receive.')
  return said
}
