// The parts of brief, authority, known devices, premises, chains and conditions, in people's words.
import type { Field } from '../lib/fields'

export const BRIEF: Field[] = [
  { key: 'client', label: 'For whom', hint: 'Whose survey it is, and to whom the report goes; a code name where that is wiser.' },
  { key: 'leaked', label: 'What leaked', kind: 'long', needed: true },
  { key: 'who_could_know', label: 'Who could know', kind: 'long', needed: true },
  { key: 'who_had_access', label: 'Who had access', kind: 'long', needed: true },
  { key: 'feared', label: 'What is feared', kind: 'lines', needed: true, hint: 'One a line: voice in the board room, a vehicle followed …' },
  { key: 'heard_at', label: 'When it was heard', kind: 'time' },
  { key: 'heard_where', label: 'Where it was heard', hint: 'Not in the suspected room, not over its telephone or mail account.' },
  { key: 'notes', label: 'Notes', kind: 'long' },
]

export const AUTHORITY: Field[] = [
  { key: 'who', label: 'Given by', needed: true },
  { key: 'right', label: 'In what right', needed: true, hint: 'Owner, tenant, the employer’s board …' },
  { key: 'from', label: 'From', kind: 'time' },
  { key: 'to', label: 'Until', kind: 'time' },
  { key: 'document', label: 'The paper that says so' },
  { key: 'rooms', label: 'Rooms', kind: 'lines', hint: 'One a line; none if it names none.' },
  { key: 'listening', label: 'Listening and viewing are permitted', kind: 'yes', hint: 'Given apart from the right to search, with its own terms.' },
  { key: 'listening_terms', label: 'Terms of listening', kind: 'long' },
]

export const KNOWN: Field[] = [
  { key: 'what', label: 'What', needed: true },
  { key: 'owner', label: 'Whose', needed: true, names: ['client', 'own kit', 'neighbour'], hint: 'The client’s, or the technician’s own kit.' },
  { key: 'place', label: 'Where' },
  { key: 'band', label: 'Channel or band', kind: 'band', hint: 'As 863–870 MHz.' },
  { key: 'identity', label: 'Address or other identity' },
  { key: 'technology', label: 'Technology', hint: 'Its id in the table of technologies, as dect.' },
  { key: 'on_from', label: 'On from', kind: 'time' },
  { key: 'on_until', label: 'On until', kind: 'time' },
  { key: 'test_sender', label: 'Checks are made with it', kind: 'yes', hint: 'The small known sender of captures in the role ‘check’.' },
  { key: 'should_read_dbm', label: 'Should read in a check', kind: 'number', unit: 'dBm', hint: 'On calibrated equipment.' },
  { key: 'should_read_steps', label: 'Should read in a check', kind: 'number', unit: 'steps', hint: 'On a detector’s scale.' },
]

export const PREMISES: Field[] = [
  { key: 'name', label: 'Name or code name' },
  { key: 'kind', label: 'Kind', names: ['office', 'flat', 'house', 'shop', 'vehicle', 'hotel room'] },
  { key: 'outer_wall', label: 'Outer wall', hint: 'A material of the table, as brick_double.' },
  { key: 'notes', label: 'Notes', kind: 'long' },
]

export const CHAIN: Field[] = [
  { key: 'name', label: 'Name', needed: true },
  { key: 'consists_of', label: 'Consists of', kind: 'long', hint: 'Receiver, preselector, cable, antenna.' },
  { key: 'serial', label: 'Serial numbers' },
  { key: 'last_checked', label: 'Last check', hint: 'A day, or words: when it was checked or calibrated, and by whom.' },
  { key: 'coupling', label: 'Takes its signal from', kind: 'choice', needed: true, choices: [['air', 'the air'], ['mains', 'the mains'], ['line', 'a line'], ['light', 'light']] },
  { key: 'bands', label: 'Bands', kind: 'bands', hint: 'As 25–3000 MHz.' },
  { key: 'scale_steps', label: 'Steps of its scale', kind: 'number', hint: 'Of a detector that shows strength in steps.' },
  { key: 'calibration_db', label: 'Calibration', kind: 'number', unit: 'dB', hint: 'dBm = dBFS + this, at a gain of 0 dB.' },
  { key: 'calibration_u_db', label: 'Its standard uncertainty', kind: 'number', unit: 'dB' },
  { key: 'noise_figure_db', label: 'Noise figure', kind: 'number', unit: 'dB' },
  { key: 'frequency_u_ppm', label: 'Uncertainty of frequency', kind: 'number', unit: 'ppm' },
  { key: 'clock_s', label: 'Add to its clock', kind: 'number', unit: 's' },
  { key: 'clock_u_s', label: 'Uncertainty of its clock', kind: 'number', unit: 's' },
  { key: 'notes', label: 'Notes', kind: 'long' },
]

export const CONDITION: Field[] = [
  { key: 'name', label: 'Name', needed: true },
  { key: 'state', label: 'The room was', kind: 'choice', choices: [['empty', 'empty'], ['in-use', 'in use'], ['meeting', 'in a meeting'], ['known-sound', 'filled with a known sound']] },
  { key: 'who', label: 'Who was there' },
  { key: 'switched_on', label: 'What was on', kind: 'lines', hint: 'One a line.' },
]
