import { describe, expect, it } from 'vitest'
import { isRaster, isWhole } from './whole'

/** The smallest PNG: signature, IHDR, IDAT, IEND (ISO/IEC 15948). */
const PNG = Uint8Array.from(atob('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=='), (one) => one.charCodeAt(0))

describe('an image', () => {
  it('is whole with its end, whatever comes after', () => {
    expect(isWhole(PNG)).toBe(true)
    expect(isWhole(Uint8Array.from([...PNG, 0, 0]))).toBe(true)
    expect(isWhole(Uint8Array.from([0xff, 0xd8, 1, 2, 0xff, 0xd9]))).toBe(true)
  })
  it('is cut without it', () => {
    for (let n = 8; n < PNG.length; n++) expect(isWhole(PNG.subarray(0, n)), `${n} bytes`).toBe(false)
    expect(isWhole(Uint8Array.from([0xff, 0xd8, 1, 2, 0xff]))).toBe(false)
  })
  it('that begins as neither is for the program to judge', () => {
    const svg = new TextEncoder().encode('<svg xmlns="http://www.w3.org/2000/svg"/>')
    expect([isWhole(svg), isRaster(svg), isRaster(PNG)]).toEqual([true, false, true])
  })
})
