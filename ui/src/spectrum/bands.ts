// The bands of a recording, with what they are used for and what the ledger has in them.
import { bandsOf } from './axis'
import type { Spectrum } from './levels'
import type { Mark } from './marks'
import type { Strip } from './pen'

export type BandOf = { low_hz: number; high_hz: number; name: string; emissions: number; open: number }

export function bandsWith(of: Spectrum, strips: readonly Strip[], marks: readonly Mark[]): BandOf[] {
  return bandsOf(of).map((band) => {
    const inside = marks.filter((one) => one.high_hz > band.low_hz && one.low_hz < band.high_hz)
    return { ...band, name: useOf(band, strips), emissions: inside.length, open: inside.filter((one) => one.open).length }
  })
}

/** The use that takes most of a band; of those that take all of it, the narrowest. */
function useOf(band: { low_hz: number; high_hz: number }, strips: readonly Strip[]): string {
  const shared = (one: Strip) => Math.min(one.high_hz, band.high_hz) - Math.max(one.low_hz, band.low_hz)
  const best = strips.filter((one) => shared(one) > 0)
    .toSorted((a, b) => shared(b) - shared(a) || a.high_hz - a.low_hz - (b.high_hz - b.low_hz))[0]
  return best ? best.what || best.service : ''
}

/** A use that several regions allocate alike is drawn once. */
export const apart = (rows: Strip[]): Strip[] =>
  rows.filter((a, i) => rows.findIndex((b) => b.low_hz === a.low_hz && b.high_hz === a.high_hz && b.service === a.service && b.what === a.what) === i)
