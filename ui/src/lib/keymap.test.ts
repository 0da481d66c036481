import { describe, expect, it } from 'vitest'
import { KEYMAP } from './keymap'

// That each part listens to just the keys listed for it is held by its type, which the check reads.
const read = import.meta.glob<string>('/src/**/*.{svelte,ts}', { query: '?raw', import: 'default', eager: true })
const sources = Object.entries(read).filter(([name]) => !name.endsWith('.test.ts')).map(([name, text]) => ({ name: name.slice('/src/'.length), text }))

describe('the list of keys', () => {
  it('tells every part that listens, and no other', () => {
    const listening = sources.flatMap(({ text }) => [...text.matchAll(/keys\.use\('([^']+)'|: Runs<'([^']+)'>/g)].map((found) => found[1] ?? found[2]))
    expect([...new Set(listening)].sort()).toEqual(Object.keys(KEYMAP).sort())
  })
  it('is what every listener goes by', () => {
    const own = sources.filter(({ text }) => /onkeydown=|addEventListener\('key/.test(text))
    // These pass a key on, take any key, or press what has the focus as a button does.
    const plain = ['App.svelte', 'frame/Blank.svelte', 'premises/Marks.svelte']
    const unlisted = own.filter(({ name, text }) => !plain.includes(name) && !text.includes('Runs<'))
    expect(unlisted.map(({ name }) => name)).toEqual([])
    for (const { name, text } of sources.filter(({ name }) => !/keys\.svelte\.ts$/.test(name))) {
      const named = [...text.matchAll(/event\.key [!=]== '([^']+)'/g)].map((found) => found[1])
      expect(named.filter((key) => !['Enter', ' '].includes(key ?? '')), name).toEqual([])
    }
  })
  it('gives each page its number', () => {
    expect(Object.keys(KEYMAP.Everywhere).filter((key) => /^\d$/.test(key))).toEqual(['1', '2', '3', '4', '5', '6', '7', '8', '9'])
  })
})
