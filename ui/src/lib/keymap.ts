// Every key that does something, by where it does: the help shows this list, and who listens to keys of a
// part of the page has to say what each of its keys does.

/** A key as it is written here: its name, after `Shift+` where it is meant with that key alone. */
export const KEYMAP = {
  Everywhere: {
    '?': 'these keys', b: 'blank the page', F9: 'blank the page, wherever one is', '!': 'something found',
    F8: 'something found, wherever one is', d: 'day or night',
    1: 'Survey', 2: 'Premises', 3: 'Captures', 4: 'Spectrum, where one was recorded', 5: 'Emissions', 6: 'Timeline', 7: 'Coverage',
    8: 'Journal', 9: 'Report',
  },
  'A card over the page': { Escape: 'close it; asked first, where something was typed' },
  'List of surveys': { b: 'blank the page', F9: 'blank the page, wherever one is', d: 'day or night' },
  'Premises: the plan, when it has the focus': {
    ArrowLeft: 'move west; with Shift finely', ArrowRight: 'move east', ArrowUp: 'move north', ArrowDown: 'move south',
    '+': 'nearer', '=': 'nearer', '-': 'farther', 0: 'all of the floor', Enter: 'tap at the cross', ' ': 'tap at the cross',
  },
  'Premises: a tool on the plan': { Escape: 'put the tool away' },
  'Premises: levels': { j: 'the next emission by attention', k: 'the one before' },
  'Premises: type it in': { Enter: 'the row below, a new one after the last', 'Shift+Enter': 'the row above', ArrowDown: 'the row below', ArrowUp: 'the row above' },
  Captures: { i: 'bring files in' },
  Spectrum: {
    ArrowLeft: 'the cursor lower', ArrowRight: 'the cursor higher', ArrowUp: 'the cursor earlier', ArrowDown: 'the cursor later',
    'Shift+ArrowLeft': 'the cursor lower, finely', 'Shift+ArrowRight': 'the cursor higher, finely',
    'Shift+ArrowUp': 'the cursor earlier, finely', 'Shift+ArrowDown': 'the cursor later, finely',
    '+': 'closer, about the cursor', '-': 'farther', 0: 'all of it', f: 'closer along frequency', F: 'farther along frequency',
    t: 'closer along time', T: 'farther along time', Home: 'what is in view: lower frequencies', End: 'what is in view: higher frequencies',
    PageUp: 'what is in view: earlier', PageDown: 'what is in view: later', ' ': 'the trace ‘now’ is of the cursor’s moment',
    '.': 'next band that was recorded', ',': 'previous band that was recorded', n: 'next emission', p: 'previous emission',
    z: 'close in on the selected emission', Enter: 'open the selected emission', Escape: 'cursor and selection away',
  },
  Emissions: {
    j: 'next row', k: 'row before', ArrowDown: 'next row', ArrowUp: 'row before', Home: 'first row', End: 'last row', Enter: 'open the row',
    x: 'mark the row', '/': 'filter', o: 'open and suspect only', r: 'decide several by a rule', a: 'decide', u: 'take back',
  },
  'Emissions: the filter': { Enter: 'to the rows', Escape: 'empty it, and to the rows' },
  'Emissions: one of them': { j: 'next emission', k: 'emission before', Escape: 'back to all', a: 'decide', u: 'take back' },
  Timeline: {
    '+': 'nearer', '=': 'nearer', '-': 'farther', ArrowLeft: 'earlier', ArrowRight: 'later', 0: 'the whole',
    j: 'next lane', k: 'lane before', ArrowDown: 'next lane', ArrowUp: 'lane before', n: 'next time that the lane was on',
    p: 'time before that the lane was on', Enter: 'open the emission',
  },
  Journal: { '/': 'search' },
} as const

export type Part = keyof typeof KEYMAP
/** What every key of a part does; none is left out, and none is added that the list does not tell. */
export type Runs<P extends Part> = Record<`${keyof (typeof KEYMAP)[P] & (string | number)}`, () => void>

/** Those that work in fields and over dialogs too. */
export const ALWAYS: readonly string[] = ['F8', 'F9']
