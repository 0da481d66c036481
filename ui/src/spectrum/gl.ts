// Tiles as textures of one byte a pixel, coloured by a second texture that is the palette.
import { palette } from './palette'
import { MOST_PICTURES, type Painter } from './painter'

const VERTEX = `#version 300 es
uniform vec4 box;
uniform vec2 part;
out vec2 at;
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  at = vec2(mix(part.x, part.y, corner.x), corner.y);
  vec2 place = box.xy + corner * box.zw;
  gl_Position = vec4(place.x * 2.0 - 1.0, 1.0 - place.y * 2.0, 0, 1);
}`

const FRAGMENT = `#version 300 es
precision highp float;
uniform sampler2D codes;
uniform sampler2D colours;
uniform vec2 span;
in vec2 at;
out vec4 colour;
void main() {
  float code = texture(codes, at).r * 255.0;
  if (code < 0.5) discard;
  float level = clamp((code - span.x) / (span.y - span.x), 0.0, 1.0);
  colour = texture(colours, vec2((level * 255.0 + 0.5) / 256.0, 0.5));
}`

/** None where the browser has no WebGL2. */
export function glPainter(canvas: HTMLCanvasElement): Painter | null {
  const gl = canvas.getContext('webgl2', { alpha: false, antialias: false })
  const program = gl && linked(gl)
  if (!gl || !program) return null
  gl.useProgram(program)
  gl.bindVertexArray(gl.createVertexArray())
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1)
  const box = gl.getUniformLocation(program, 'box')
  const part = gl.getUniformLocation(program, 'part')
  const span = gl.getUniformLocation(program, 'span')
  gl.uniform1i(gl.getUniformLocation(program, 'codes'), 0)
  gl.uniform1i(gl.getUniformLocation(program, 'colours'), 1)
  gl.activeTexture(gl.TEXTURE1)
  texture(gl, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, 256, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, palette()))
  gl.activeTexture(gl.TEXTURE0)
  const kept = new Map<string, WebGLTexture>()

  return {
    kind: 'WebGL',
    paint(tiles, width, height, paper) {
      if (canvas.width !== width) canvas.width = width
      if (canvas.height !== height) canvas.height = height
      gl.viewport(0, 0, width, height)
      const [r = 1, g = 1, b = 1] = (paper.match(/[\da-f]{2}/gi) ?? []).map((hex) => parseInt(hex, 16) / 255)
      gl.clearColor(r, g, b, 1)
      gl.clear(gl.COLOR_BUFFER_BIT)
      for (const tile of tiles) {
        let own = kept.get(tile.key)
        if (own) {
          gl.bindTexture(gl.TEXTURE_2D, own)
          kept.delete(tile.key)
        } else {
          own = texture(gl, () =>
            gl.texImage2D(gl.TEXTURE_2D, 0, gl.R8, tile.cells, tile.codes.length / tile.cells, 0, gl.RED, gl.UNSIGNED_BYTE, tile.codes))
        }
        kept.set(tile.key, own)
        gl.uniform4f(box, tile.x / width, tile.y / height, tile.width / width, tile.height / height)
        gl.uniform2f(part, ...(tile.part ?? [0, 1]))
        gl.uniform2f(span, tile.low, Math.max(tile.high, tile.low + 1e-3))
        gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4)
      }
      for (const [key, old] of kept) {
        if (kept.size <= MOST_PICTURES) break
        gl.deleteTexture(old)
        kept.delete(key)
      }
    },
    settle: () => gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4)),
    close: () => gl.getExtension('WEBGL_lose_context')?.loseContext(),
  }
}

function texture(gl: WebGL2RenderingContext, fill: () => void): WebGLTexture {
  const made = gl.createTexture()
  gl.bindTexture(gl.TEXTURE_2D, made)
  fill()
  for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, filter, gl.NEAREST)
  for (const wrap of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, wrap, gl.CLAMP_TO_EDGE)
  return made
}

function linked(gl: WebGL2RenderingContext): WebGLProgram | null {
  const program = gl.createProgram()
  for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]] as const) {
    const shader = gl.createShader(kind)
    if (!shader) return null
    gl.shaderSource(shader, source)
    gl.compileShader(shader)
    gl.attachShader(program, shader)
  }
  gl.linkProgram(program)
  return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : null
}
