// What the program says happens in a survey. A browser gives a host six connections, however many tabs it
// shows: one tab of a survey hears the program and tells the others; when it closes, another one hears.

/** `lost`: not heard for now; `refused`: and not tried again. */
export type Said =
  | { kind: 'open' } | { kind: 'lost'; refused: boolean }
  | { kind: 'version'; data: string } | { kind: 'jobs'; data: string }
/** Between tabs: asking how things stand, and what was said, to all or to the one that asked. */
type Told = { asks: string } | { said: Said; to?: string }

export class Stream {
  readonly #id = crypto.randomUUID()
  readonly #channel: BroadcastChannel
  readonly #end = new AbortController()
  /** What was said last of each: for a tab that comes later. */
  readonly #last = new Map<string, Said>()
  #source: EventSource | null = null

  constructor(survey: string, readonly take: (said: Said) => void) {
    const name = `survey ${survey}`
    this.#channel = new BroadcastChannel(name)
    this.#channel.onmessage = ({ data }: MessageEvent<Told>) => {
      if ('asks' in data) this.#answer(data.asks)
      else if (!data.to || data.to === this.#id) this.take(data.said)
    }
    this.#send({ asks: this.#id })
    // The lock is held for as long as this tab hears.
    navigator.locks.request(name, { signal: this.#end.signal }, () => this.#hear(survey)).catch((error: unknown) => {
      if (!this.#end.signal.aborted) throw error
    })
  }

  close(): void {
    this.#end.abort()
    this.#source?.close()
    this.#channel.close()
  }

  #hear(survey: string): Promise<void> {
    const { signal } = this.#end
    if (signal.aborted) return Promise.resolve()
    const source = new EventSource(`/api/surveys/${encodeURIComponent(survey)}/events`)
    this.#source = source
    source.onopen = () => this.#tell({ kind: 'open' })
    source.onerror = () => this.#tell({ kind: 'lost', refused: source.readyState === EventSource.CLOSED })
    for (const kind of ['version', 'jobs'] as const) {
      source.addEventListener(kind, ({ data }: MessageEvent<string>) => this.#tell({ kind, data }))
    }
    return new Promise((ended) => signal.addEventListener('abort', () => ended()))
  }
  #tell(said: Said): void {
    this.#last.set(said.kind === 'lost' ? 'open' : said.kind, said)
    this.take(said)
    this.#send({ said })
  }
  #answer(to: string): void {
    for (const said of this.#last.values()) this.#send({ said, to })
  }
  #send(told: Told): void {
    this.#channel.postMessage(told)
  }
}
