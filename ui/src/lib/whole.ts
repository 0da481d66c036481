// Whether the bytes of an image came whole.

const starts = (bytes: Uint8Array, ...of: number[]) => of.every((byte, i) => bytes[i] === byte)
const isPng = (bytes: Uint8Array) => starts(bytes, 0x89, 0x50, 0x4e, 0x47)
const isJpeg = (bytes: Uint8Array) => starts(bytes, 0xff, 0xd8)

/** Whether bytes begin as an image made of pixels. */
export const isRaster = (bytes: Uint8Array): boolean => isPng(bytes) || isJpeg(bytes)

/** Whether an image that begins as PNG or JPEG has its end: the chunk IEND (ISO/IEC 15948, 11.2.5), the
 * marker EOI (ISO/IEC 10918-1, B.1.1.3). Of what is neither, the program says what it is. */
export function isWhole(bytes: Uint8Array): boolean {
  const ends = (...of: number[]) => {
    for (let at = bytes.length - of.length; at >= 0; at--) if (of.every((byte, i) => bytes[at + i] === byte)) return true
    return false
  }
  if (isPng(bytes)) return ends(0x49, 0x45, 0x4e, 0x44, 0xae, 0x42, 0x60, 0x82)
  return isJpeg(bytes) ? ends(0xff, 0xd9) : true
}
