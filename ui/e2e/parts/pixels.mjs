// What a part of the page shows, pixel by pixel.

/** Brightness of each pixel, 0 to 255 (Rec. 709 weights), and the number of colours. */
export async function pixels(page, locator) {
  const picture = (await locator.screenshot()).toString('base64')
  return page.evaluate(async (data) => {
    const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0))
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }))
    const { width, height } = bitmap
    const context = new OffscreenCanvas(width, height).getContext('2d')
    context.drawImage(bitmap, 0, 0)
    const { data: rgba } = context.getImageData(0, 0, width, height)
    const bright = Array.from({ length: width * height }, (_, i) => Math.round(0.2126 * rgba[4 * i] + 0.7152 * rgba[4 * i + 1] + 0.0722 * rgba[4 * i + 2]))
    return { width, height, bright, colours: new Set(new Uint32Array(rgba.buffer)).size }
  }, picture)
}

/** The brightest within a box, the middle one and the brightest of all others; two pixels along the edges,
 * which may be the page's paper, do not count. */
export function brightest({ width, height, bright }, [x0, y0, x1, y1]) {
  let most = 0
  const rest = []
  for (let y = 2; y < height - 2; y++) {
    for (let x = 2; x < width - 2; x++) {
      const one = bright[y * width + x]
      if (x >= x0 && x <= x1 && y >= y0 && y <= y1) most = Math.max(most, one)
      else rest.push(one)
    }
  }
  rest.sort((a, b) => a - b)
  return { most, rest: rest[rest.length >> 1] ?? 0, loudest: rest.at(-1) ?? 0 }
}
