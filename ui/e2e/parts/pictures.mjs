// Pictures made here: by the browser's own encoders, so that they are what any camera or drawing gives.

/** A photograph as a camera with satellite reception writes it: JPEG, its place in EXIF (CIPA DC-008). */
export async function photograph(page, name, place = { north: [53, 20, 30], west: [6, 15, 45] }) {
  const drawn = await canvas(page, 640, 480, 'image/jpeg')
  // After the start of the image, before everything else (CIPA DC-008, 4.5.4).
  return { name, mimeType: 'image/jpeg', buffer: Buffer.concat([drawn.subarray(0, 2), exif(place), drawn.subarray(2)]) }
}

/** The image of a floor plan: walls as lines on white. */
export async function planPng(page, name, width, height) {
  return { name, mimeType: 'image/png', buffer: await canvas(page, width, height, 'image/png') }
}
export const planSvg = (name, width, height) => ({
  name, mimeType: 'image/svg+xml',
  buffer: Buffer.from(`<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}">
    <rect width="100%" height="100%" fill="#fff"/><path d="M${width / 10},${height / 10} h${(8 * width) / 10} v${(8 * height) / 10} h-${(8 * width) / 10} z" fill="none" stroke="#000" stroke-width="6"/></svg>`),
})

async function canvas(page, width, height, type) {
  const text = await page.evaluate(async ([w, h, as]) => {
    const of = new OffscreenCanvas(w, h)
    const draw = of.getContext('2d')
    draw.fillStyle = '#fff'
    draw.fillRect(0, 0, w, h)
    draw.strokeStyle = '#000'
    draw.lineWidth = 6
    draw.strokeRect(w / 10, h / 10, (8 * w) / 10, (8 * h) / 10)
    draw.strokeRect(w / 10, h / 10, (4 * w) / 10, (8 * h) / 10)
    const bytes = new Uint8Array(await (await of.convertToBlob({ type: as })).arrayBuffer())
    let out = ''
    for (let i = 0; i < bytes.length; i += 32768) out += String.fromCharCode(...bytes.subarray(i, i + 32768))
    return btoa(out)
  }, [width, height, type])
  return Buffer.from(text, 'base64')
}

/** The segment APP1 of EXIF with a GPS directory: big-endian TIFF, degrees, minutes and seconds as
 * rationals (CIPA DC-008, 4.6.6). */
function exif({ north, west }) {
  const [GPS_AT, ENTRIES] = [26, 4]
  const values = GPS_AT + 2 + 12 * ENTRIES + 4
  const tiff = Buffer.alloc(values + 48)
  const entry = (at, tag, type, count) => {
    tiff.writeUInt16BE(tag, at)
    tiff.writeUInt16BE(type, at + 2)
    tiff.writeUInt32BE(count, at + 4)
    return at + 8
  }
  tiff.write('MM', 0, 'latin1')
  tiff.writeUInt16BE(42, 2)
  tiff.writeUInt32BE(8, 4)
  // The image's directory leads to that of the place.
  tiff.writeUInt16BE(1, 8)
  tiff.writeUInt32BE(GPS_AT, entry(10, 0x8825, 4, 1))
  tiff.writeUInt16BE(ENTRIES, GPS_AT)
  const at = (i) => GPS_AT + 2 + 12 * i
  tiff.write('N\0', entry(at(0), 1, 2, 2), 'latin1')
  tiff.writeUInt32BE(values, entry(at(1), 2, 5, 3))
  tiff.write('W\0', entry(at(2), 3, 2, 2), 'latin1')
  tiff.writeUInt32BE(values + 24, entry(at(3), 4, 5, 3))
  for (const [i, part] of [...north, ...west].entries()) {
    tiff.writeUInt32BE(part, values + 8 * i)
    tiff.writeUInt32BE(1, values + 8 * i + 4)
  }
  const body = Buffer.concat([Buffer.from('Exif\0\0', 'latin1'), tiff])
  const head = Buffer.from([0xff, 0xe1, 0, 0])
  head.writeUInt16BE(body.length + 2, 2)
  return Buffer.concat([head, body])
}
