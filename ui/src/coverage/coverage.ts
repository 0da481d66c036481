// What was listened to, as the server tells it.
import type { Schemas } from '../api/client'

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
