// The program serving a survey, and a page built since the program was.
import { spawn } from 'node:child_process'
import { join, resolve } from 'node:path'

/**
 * Serves on a port of its own choice, unless one is given; `args` name the survey. `stop` asks it to end,
 * `kill` ends it at once, as a power cut would: both tell when it has. `interrupt` asks and does not wait.
 */
export async function serve(program, args) {
  const child = spawn(program, ['serve', ...args, '--json'], { stdio: ['ignore', 'pipe', 'inherit'] })
  const address = await new Promise((answer, fail) => {
    let text = ''
    child.stdout.on('data', (chunk) => {
      text += chunk
      try {
        answer(JSON.parse(text).address)
      } catch {
        // Not whole yet.
      }
    })
    child.on('exit', (code) => fail(new Error(`the program ended with ${code} before it answered`)))
  })
  child.removeAllListeners('exit')
  const ended = new Promise((done) => child.on('exit', done))
  const interrupt = () => void child.kill('SIGINT')
  return { address, pid: child.pid, interrupt, stop: () => (interrupt(), ended), kill: () => (child.kill('SIGKILL'), ended) }
}

/** Shows the page of a folder in place of the program's own. */
export async function fromFolder(context, folder) {
  await context.route(/\/(assets\/[^/]+|mark\.svg|)$/, async (route) => {
    const path = new URL(route.request().url()).pathname
    const response = await route.fetch()
    const { 'content-type': _, 'content-length': __, ...headers } = response.headers()
    await route.fulfill({ status: 200, headers, path: join(resolve(folder), path === '/' ? 'index.html' : path) })
  })
}
