import { describe, expect, it, vi } from 'vitest'

vi.stubGlobal('location', { hash: '' })
vi.stubGlobal('addEventListener', () => {})
const { parse, to } = await import('./route.svelte')

describe('addresses', () => {
  it('come back as they went', () => {
    const route = parse(to('blue heron', 'emissions', 'E7', { by: 'level' }))
    expect(route.survey).toBe('blue heron')
    expect(route.page).toBe('emissions')
    expect(route.id).toBe('E7')
    expect(route.query.get('by')).toBe('level')
  })
  it('that are none lead to the list, or to the survey', () => {
    expect(parse('#/nothing').survey).toBeNull()
    expect(parse('#/s/one/nothing').page).toBe('survey')
    expect(parse('#/s/%E0%A4%A').survey).toBe('%E0%A4%A')
  })
})
