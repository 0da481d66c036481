import { expect, it } from 'vitest'
import type { Entry } from '../lib/journal'
import { acts, newest, takingBack } from './acts'

const entry = (seq: number, kind: string, undoes?: number) =>
  ({ seq, kind, time: `2026-03-05T20:00:0${seq}Z`, by: 'A', body: JSON.stringify({ changes: [], ...(undoes ? { undoes } : {}) }), hash: '', previous: '' }) as Entry
const undoable = (of: number, what: string, second = of) => ({ entry: of, time: `2026-03-05T20:00:0${second}Z`, by: 'A', what })

it('offers the act before, once the newest was taken back', () => {
  // 1 and 2 decide; 3 takes 2 back: 2 does not stand any more.
  const back = takingBack([entry(1, 'decide'), entry(2, 'decide'), entry(3, 'undo', 2)])
  const all = acts([undoable(3, 'taken back: E2 is suspect: b'), undoable(1, 'E1 is suspect: a')], back)
  expect(all.map((act) => act.takesBack)).toEqual([true, false])
  expect(newest(all)?.entries[0]?.entry).toBe(1)
})

it('takes a taking back that was itself taken back for what it does anew', () => {
  const back = takingBack([entry(1, 'describe'), entry(2, 'undo', 1), entry(3, 'undo', 2), entry(4, 'undo', 3)])
  expect([...back]).toEqual([2, 4])
})

it('offers nothing where all that stands takes back', () => {
  expect(newest(acts([undoable(2, 'taken back: E1 is suspect: a')], new Set([2])))).toBeUndefined()
})

it('keeps together what was decided by one rule', () => {
  const all = acts([undoable(3, 'E2 is accounted: x', 3), undoable(2, 'E1 is accounted: x', 3), undoable(1, 'E9 is suspect: y')], new Set())
  expect(all.map((act) => act.entries.length)).toEqual([2, 1])
})
