// Numbers as people read them, each with its unit.

/** Hertz with the prefix that suits, to so many significant figures at least. */
export function hertz(hz: number | null | undefined, figures = 6): string {
  if (hz === null || hz === undefined) return '–'
  const size = Math.abs(hz)
  const [scale, unit] =
    size >= 1e9 ? [1e9, 'GHz'] : size >= 1e6 ? [1e6, 'MHz'] : size >= 1e3 ? [1e3, 'kHz'] : [1, 'Hz']
  return `${trimmed(hz / scale, figures)} ${unit}`
}

function trimmed(value: number, figures: number): string {
  const whole = Math.max(1, Math.floor(Math.log10(Math.abs(value) || 1)) + 1)
  const decimals = Math.max(0, figures - whole)
  const text = value.toFixed(decimals)
  return decimals > 0 ? text.replace(/\.?0+$/, '') : text
}

/** A width: three figures. */
export function width(hz: number | null | undefined): string {
  return hertz(hz, 3)
}

export function decibels(value: number | null | undefined, unit = 'dB', decimals = 0): string {
  if (value === null || value === undefined) return '–'
  return `${value.toFixed(decimals).replace('-', '−')} ${unit}`
}

/** A length of time: `12 ms`, `4.2 s`, `3 min 5 s`, `7 h 12 min`, from three days on `12 d 3 h`. */
export function lasting(seconds: number | null | undefined): string {
  if (seconds === null || seconds === undefined) return '–'
  const s = Math.abs(seconds)
  if (s < 1e-3) return `${trimmed(seconds * 1e6, 3)} µs`
  if (s < 1) return `${trimmed(seconds * 1e3, 3)} ms`
  if (s < 60) return `${trimmed(seconds, 3)} s`
  const whole = Math.round(s)
  if (whole < 3600) return both(Math.floor(whole / 60), 'min', whole % 60, 's')
  const minutes = Math.round(whole / 60)
  if (minutes < 72 * 60) return both(Math.floor(minutes / 60), 'h', minutes % 60, 'min')
  const hours = Math.round(minutes / 60)
  return both(Math.floor(hours / 24), 'd', hours % 24, 'h')
}

function both(a: number, unitA: string, b: number, unitB: string): string {
  return b === 0 ? `${a} ${unitA}` : `${a} ${unitA} ${b} ${unitB}`
}

export function counted(n: number, one: string, many = `${one}s`): string {
  return `${n.toLocaleString('en')} ${n === 1 ? one : many}`
}

export function bytes(n: number): string {
  const [scale, unit] = n >= 1e9 ? [1e9, 'GB'] : n >= 1e6 ? [1e6, 'MB'] : n >= 1e3 ? [1e3, 'kB'] : [1, 'bytes']
  return `${trimmed(n / scale, 3)} ${unit}`
}

/** What a person types for a frequency: `433.92 MHz`, `868.3M`, `1e6`; null if it is none. */
export function parseHertz(text: string): number | null {
  const found = /^\s*([+-]?\d+(?:[.,]\d+)?(?:e[+-]?\d+)?)\s*(g|m|k)?(?:hz)?\s*$/i.exec(text)
  if (!found?.[1]) return null
  const scale = { g: 1e9, m: 1e6, k: 1e3, '': 1 }[(found[2] ?? '').toLowerCase()] ?? 1
  return Number(found[1].replace(',', '.')) * scale
}

/** The words of a state, as people read them. */
export function state(of: string): string {
  return of.replaceAll('-', ' ').replaceAll('_', ' ')
}
