import { describe, expect, it } from 'vitest'
import { apart, strongest, timed, viewOf, type Heard } from './bursts'
import type { Spectrum } from '../spectrum/levels'

const burst = (from: string, until: string, snr_db: number, count = 1) => ({ from, until, snr_db, count, centre_hz: null, bandwidth_hz: null, strength: null })
const heard: Heard = {
  capture: 'C2', from: '2026-03-05T17:50:00Z', until: '2026-03-05T17:50:27.796Z', count: 3,
  bursts: [burst('2026-03-05T17:50:01.24402Z', '2026-03-05T17:50:01.255313Z', 71), burst('2026-03-05T17:50:07.244021Z', '2026-03-05T17:50:07.255313Z', 72), burst('2026-03-05T17:50:13.24402Z', '2026-03-05T17:50:13.2553Z', 70)],
}

describe('bursts of a capture', () => {
  it('are timed from its start to the microsecond', () => {
    const [first] = timed(heard)
    expect(first?.fromS).toBeCloseTo(1.24402, 6)
    expect(first?.untilS).toBeCloseTo(1.255313, 6)
  })
  it('tell how far apart they start, unless several are told as one', () => {
    expect(apart(timed(heard))?.median).toBeCloseTo(6, 4)
    expect(apart(timed({ ...heard, bursts: [...heard.bursts, burst('2026-03-05T17:50:20Z', '2026-03-05T17:50:21Z', 3, 9)] }))).toBeNull()
    expect(apart(timed(heard).slice(0, 2))).toBeNull()
    expect(strongest(timed(heard))).toBe(1)
  })
  it('are shown with air about them, inside the band that was received', () => {
    const of = { segments: [{ low_hz: 433e6, high_hz: 435.4e6, start_s: 0, duration_s: 1 }, { low_hz: 867.3e6, high_hz: 869.7e6, start_s: 1, duration_s: 1 }], levels: [{ frequency_level: 0, cell_hz: 2343.75 }] } as unknown as Spectrum
    const within = { lowHz: 433e6, highHz: 869.7e6, fromS: 0, untilS: 30, leastHz: 1e3, leastS: 1e-3 }
    const view = viewOf(of, within, { low_hz: 433e6, high_hz: 433.02e6, centre_hz: 433.01e6 }, timed(heard)[0]!)
    expect(view.lowHz).toBe(433e6)
    expect(view.highHz).toBeLessThan(435.4e6)
    expect(view.fromS).toBeLessThan(1.244)
    expect(view.untilS).toBeGreaterThan(1.2553)
    expect(view.untilS - view.fromS).toBeLessThan(0.05)
    expect(viewOf(of, within, { low_hz: 433e6, high_hz: 433.02e6, centre_hz: 433.01e6 }, null)).toMatchObject({ fromS: 0, untilS: 30 })
  })
})
