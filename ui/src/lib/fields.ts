// What the parts of a thing of the record are called, and how they are shown and typed.
import { bandText, bandsText, parseBands, type Band } from './bands'
import { faultOf, moment, stamped, written } from './clock'

export type Kind = 'text' | 'long' | 'number' | 'time' | 'lines' | 'choice' | 'yes' | 'band' | 'bands'

export type Field = {
  key: string
  label: string
  kind?: Kind
  unit?: string
  /** Value and word, of a choice. */
  choices?: readonly (readonly [string, string])[]
  hint?: string
  needed?: boolean
  /** Names to choose from while typing. */
  names?: readonly string[]
}

/** A value as it is read; empty where there is none. */
export function told(field: Field, value: unknown, zone: string): string {
  if (value === null || value === undefined || value === '') return ''
  switch (field.kind) {
    case 'number':
      return `${String(value).replace('-', '−')}${field.unit ? ` ${field.unit}` : ''}`
    case 'time':
      return moment(String(value), zone, true)
    case 'lines':
      return (value as string[]).join(', ')
    case 'choice':
      return field.choices?.find(([of]) => of === value)?.[1] ?? String(value)
    case 'yes':
      return value ? 'yes' : 'no'
    case 'band':
      return bandText(value as Band)
    case 'bands':
      return bandsText(value as Band[])
    default:
      return String(value)
  }
}

/** A value as it stands in its input. */
export function typedOf(field: Field, value: unknown, zone: string): string {
  if (value === null || value === undefined) return ''
  if (field.kind === 'time') return written(String(value), zone)
  if (field.kind === 'lines') return (value as string[]).join('\n')
  if (field.kind === 'number') return String(value)
  return told(field, value, zone)
}

/** What was typed as a value, or what is wrong with it. */
export function read(field: Field, text: string, zone: string): { value: unknown } | { wrong: string } {
  const bare = text.trim()
  if (field.kind === 'lines') return { value: text.split('\n').map((line) => line.trim()).filter(Boolean) }
  if (field.kind === 'bands' || field.kind === 'band') {
    const bands = parseBands(bare)
    if (!bands) return { wrong: 'Write a band as 863–870 MHz.' }
    if (field.kind === 'bands') return { value: bands }
    return bands.length > 1 ? { wrong: 'One band is meant here.' } : { value: bands[0] ?? null }
  }
  if (!bare) return { value: null }
  if (field.kind === 'number') {
    const number = Number(bare.replace(',', '.').replace('−', '-'))
    return Number.isFinite(number) ? { value: number } : { wrong: 'Write a number.' }
  }
  if (field.kind === 'time') {
    const time = stamped(bare, zone)
    return time ? { value: time } : { wrong: faultOf(bare, zone) }
  }
  return { value: text }
}
