// Calls of the server, typed by its own description. Every refusal becomes a `Refused` that says what
// is wrong and what to do.
import createClient from 'openapi-fetch'
import type { components, paths } from './types'

export type Schemas = components['schemas']
export type Problem = Schemas['Problem']
export type Row = Schemas['LedgerRow']
export type Ledger = Schemas['Ledger']
export type Survey = Schemas['Record']
export type Capture = Schemas['Capture']
export type Job = Schemas['Job']

export class Refused extends Error {
  constructor(readonly problem: Pick<Problem, 'title' | 'detail' | 'remedy'> & Partial<Problem>) {
    super(problem.detail)
  }
  /** Somebody else changed what was shown. */
  get changed(): boolean {
    return this.problem.status === 412
  }
}

export const api = createClient<paths>({ baseUrl: '/' })

type Answer<T> = { data?: T; error?: unknown; response: Response }

/** What a call gives, or a `Refused`. */
export async function got<T>(call: Promise<Answer<T>>): Promise<T> {
  let answer: Answer<T>
  try {
    answer = await call
  } catch {
    throw unreachable()
  }
  if (answer.error !== undefined) throw new Refused(answer.error as Problem)
  return answer.data as T
}

/** As `got`, with the version that the server said it is. */
export async function gotVersion<T>(call: Promise<Answer<T>>): Promise<{ data: T; version: string }> {
  let version = ''
  const data = await got(
    call.then((answer) => {
      version = answer.response.headers.get('etag') ?? ''
      return answer
    }),
  )
  return { data, version }
}

/** Any call by hand: streams, binary answers. */
export async function fetched(input: string, init?: RequestInit): Promise<Response> {
  let response: Response
  try {
    response = await fetch(input, init)
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error
    throw unreachable()
  }
  if (!response.ok) throw new Refused((await response.json()) as Problem)
  return response
}

function unreachable(): Refused {
  return new Refused({
    title: 'No answer',
    detail: 'the program does not answer',
    remedy: 'Start it again on this machine; what it acknowledged is kept.',
  })
}
