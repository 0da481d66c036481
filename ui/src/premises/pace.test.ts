import { describe, expect, it } from 'vitest'
import { begun, left, stepped, stopped, whole_s, type Period } from './pace'

const script = { what: 'music', on_s: 60, off_s: 60, times: 5 }

/** Runs a script, looked at at these times. */
function run(times: number[]): { periods: Period[]; phase: string } {
  let paced = begun(script, 0)
  const periods: Period[] = []
  for (const now of times) {
    const step = stepped(paced, now)
    paced = step.paced
    if (step.ended) periods.push(step.ended)
  }
  return { periods, phase: paced.phase }
}

describe('a paced stimulus', () => {
  it('is on five times, a minute each', () => {
    const { periods, phase } = run(Array.from({ length: 541 }, (_, s) => s * 1000))
    expect(periods).toEqual([0, 120, 240, 360, 480].map((s) => ({ from: s * 1000, until: (s + 60) * 1000 })))
    expect(phase).toBe('over')
    expect(whole_s(script)).toBe(540)
  })
  it('stamps when it prompted, not when it should have', () => {
    const { periods, phase } = run([59_000, 200_000, 230_000, 260_000])
    expect(periods).toEqual([{ from: 0, until: 200_000 }])
    expect(phase).toBe('on')
  })
  it('keeps what was on when it is stopped', () => {
    expect(stopped(begun(script, 1000), 20_000).ended).toEqual({ from: 1000, until: 20_000 })
    const off = stepped(begun(script, 0), 60_000).paced
    expect(left(off, 70_000)).toBe(50_000)
    expect(stopped(off, 70_000).ended).toBeNull()
  })
})
