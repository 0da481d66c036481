// A paced stimulus: on so long, off so long, so many times. A period lasts from the moment at which its
// prompt was shown to the moment at which the next one was: a screen that slept prompts late, and what is
// stamped says so. Milliseconds of the clock.

export type Script = { what: string; on_s: number; off_s: number; times: number }
export type Phase = 'on' | 'off' | 'over'
export type Paced = { script: Script; phase: Phase; /** Of the on-periods, from 1. */ turn: number; since: number }
export type Period = { from: number; until: number }

export const begun = (script: Script, now: number): Paced => ({ script, phase: 'on', turn: 1, since: now })

/** Milliseconds that the phase has to go. */
export function left({ script, phase, since }: Paced, now: number): number {
  const lasts = phase === 'on' ? script.on_s : phase === 'off' ? script.off_s : 0
  return Math.max(0, since + lasts * 1000 - now)
}

/** What is prompted now, and the on-period that has just ended. */
export function stepped(paced: Paced, now: number): { paced: Paced; ended: Period | null } {
  if (paced.phase === 'over' || left(paced, now) > 0) return { paced, ended: null }
  if (paced.phase === 'off') return { paced: { ...paced, phase: 'on', turn: paced.turn + 1, since: now }, ended: null }
  return {
    paced: { ...paced, phase: paced.turn >= paced.script.times ? 'over' : 'off', since: now },
    ended: { from: paced.since, until: now },
  }
}

/** Ends it early: an on-period that is under way ends now. */
export function stopped(paced: Paced, now: number): { paced: Paced; ended: Period | null } {
  const ended = paced.phase === 'on' ? { from: paced.since, until: now } : null
  return { paced: { ...paced, phase: 'over', since: now }, ended }
}

/** How long the whole of it lasts; the last off-period is not waited for. Seconds. */
export const whole_s = ({ on_s, off_s, times }: Script): number => times * on_s + Math.max(0, times - 1) * off_s
