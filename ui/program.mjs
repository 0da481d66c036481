// The program making and serving a survey, and a page built since the program was.
import { execFileSync, spawn } from 'node:child_process'
import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'

/** The demonstration, made in `work` unless one is given: the folder of all of it, and its survey's. */
export function demonstration(program, given, work) {
  const made = given ? resolve(given) : join(work, 'demo')
  if (!given) execFileSync(program, ['demo', '--out', made, '--no-serve'], { stdio: ['ignore', 'ignore', 'inherit'] })
  const survey = ['survey', '.'].map((name) => join(made, name)).find((dir) => existsSync(join(dir, 'survey.sqlite')))
  if (!survey) throw new Error(`there is no survey in ${made}`)
  return { made, survey }
}

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
