// Pictures of the client's report, from the demonstration's survey with some rows decided as a technician
// would. Writes docs/pictures/report-{answer,finding,interim}.png; wants poppler's pdftoppm and pdftotext.
//
//   node measure/report.mjs [--program FILE] [--demo DIR] [--out DIR]
//
// `--demo` is a demonstration that was made before.
import { execFileSync } from 'node:child_process'
import { cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { demonstration } from '../program.mjs'

const here = dirname(fileURLToPath(import.meta.url))
const { values } = parseArgs({
  options: {
    program: { type: 'string', default: join(here, '../../target/release/stillroom') },
    demo: { type: 'string' },
    out: { type: 'string', default: join(here, '../../docs/pictures') },
  },
})
const program = resolve(values.program)
const work = mkdtempSync(join(tmpdir(), 'report-'))
const survey = join(work, 'quay')
cpSync(demonstration(program, values.demo, work).survey, survey, { recursive: true })

const run = (tool, ...args) => execFileSync(tool, args, { encoding: 'utf8', maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'inherit'] })
const { emissions } = JSON.parse(run(program, 'emissions', survey, '--json'))
/** The row at a frequency in megahertz. */
const at = (mhz) => {
  const off = (row) => Math.abs(row.centre_hz / 1e6 - mhz)
  const row = emissions.reduce((best, one) => (off(one) < off(best) ? one : best))
  if (off(row) > 0.1) throw new Error(`no row at ${mhz} MHz`)
  return row.id
}

/** Decided by what was measured: nobody listened to anything, since the authority does not give it. */
const DECISIONS = [
  [434.615, 'located', 'behind the skirting under the window of the board room; on only while people spoke there'],
  [154.112, 'suspect', "steady carrier, 18 dB above the corridor in the director's office; nobody knows of it"],
  [869.12, 'suspect', 'short bursts at the meeting corner alone, while people spoke there'],
  [1240, 'suspect', 'wide and steady, strongest in the board room'],
  [897.5, 'suspect', 'reports every three minutes, loudest where the car stands'],
  [868.35, 'unresolved', 'a meter or a sensor by its bursts; the house technician is asked'],
]
for (const [mhz, state, reason] of DECISIONS) decide([at(mhz)], state, reason)
const open = emissions.filter((row) => !DECISIONS.some(([mhz]) => at(mhz) === row.id))
const outside = open.filter((row) => !row.receiver_line && (row.origin.excess_db ?? 0) < -6)
decide(open.filter((row) => row.receiver_line).map((row) => row.id), 'accounted', 'there with no antenna connected', 'receiver-own')
decide(outside.map((row) => row.id), 'accounted', 'louder at the quay than in any room', 'stronger-outside')

const record = join(work, 'record.toml')
writeFileSync(record, `
[statement]
author = "R. Vale"
qualification = "radio technician, twelve years of practice"
summary = """
We found four transmitters in the rooms that nobody at Quay House could account for, and a tracker on a car \\
in the garage. One of the four sends only while people speak in the board room.

None of them was touched. They still send. What they send was not listened to: the authority does not give it."""
advice = """
Hold no confidential talk in the board room, the director's office or at the meeting corner.

Decide with your lawyer, away from these rooms, whether they stay and are watched or are handed over."""

[[found_items]]
what = "a matt black case, 40 by 25 mm, a wire of 16 cm at its end"
place = "Board room"
found_at = "2026-03-05T20:50:00Z"
found_by = "R. Vale"
radiating = true
emissions = ["${at(434.615)}"]
`)
run(program, 'describe', survey, '--apply', record)

const [report, interim] = [join(work, 'report.pdf'), join(work, 'interim.pdf')]
run(program, 'report', survey, '--out', report)
run(program, 'report', survey, '--interim', '--out', interim)
mkdirSync(values.out, { recursive: true })
picture(report, 1, 'report-answer')
picture(report, pageOf(`Spectrum around ${at(869.12)} `), 'report-finding')
picture(interim, 1, 'report-interim')
rmSync(work, { recursive: true, force: true })

function decide(ids, state, reason, ground) {
  if (ids.length > 0) run(program, 'decide', survey, ...ids, '--as', state, ...(ground ? ['--ground', ground] : []), '--reason', reason)
}

/** The first page of the report that says this. */
function pageOf(words) {
  const pages = run('pdftotext', report, '-').split('\f').map((text) => text.replace(/\s+/g, ' '))
  const page = pages.findIndex((text) => text.includes(words))
  if (page < 0) throw new Error(`no page says '${words}'`)
  return page + 1
}

function picture(file, page, name) {
  run('pdftoppm', '-png', '-r', '96', '-singlefile', '-f', `${page}`, '-l', `${page}`, file, join(values.out, name))
}
