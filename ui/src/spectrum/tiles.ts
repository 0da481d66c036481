// Tiles of one recording in the page's memory: fetched as the view asks, given up when it moves on, and
// bounded in bytes, the longest unseen going first.
import { fetched } from '../api/client'
import { keyOf, type Place } from './levels'

/** Bytes of tiles kept: four thousand. */
const MOST_BYTES = 64 << 20
/** Requests under way at once. */
const AT_ONCE = 4

export type Tile = { place: Place; codes: Uint8Array }

export class Tiles {
  #kept = new Map<string, Tile>()
  #under = new Map<string, AbortController>()
  #wanted: Place[] = []
  #failed = new Set<string>()
  #closed = false

  constructor(
    readonly path: string,
    readonly of: 'max' | 'mean',
    readonly come: () => void,
    readonly wrong: (error: unknown) => void,
  ) {}

  /** Tiles that are there, of any level. */
  get all(): Iterable<Tile> {
    return this.#kept.values()
  }

  has(place: Place): boolean {
    return this.#kept.has(keyOf(place))
  }

  get waits(): boolean {
    return this.#under.size + this.#wanted.length > 0
  }

  get(place: Place): Tile | undefined {
    const key = keyOf(place)
    const tile = this.#kept.get(key)
    if (tile) {
      // To the end of the order: it was seen last.
      this.#kept.delete(key)
      this.#kept.set(key, tile)
    }
    return tile
  }

  /** These are needed now, in this order; what is under way and not among them is given up. */
  want(places: Place[]): void {
    const keys = new Set(places.map(keyOf))
    for (const [key, under] of this.#under) if (!keys.has(key)) under.abort()
    this.#wanted = places.filter((p) => {
      const key = keyOf(p)
      return !this.#kept.has(key) && !this.#under.has(key) && !this.#failed.has(key)
    })
    this.#next()
  }

  close(): void {
    this.#closed = true
    this.#wanted = []
    for (const under of this.#under.values()) under.abort()
    this.#kept.clear()
  }

  #next(): void {
    while (this.#under.size < AT_ONCE) {
      const place = this.#wanted.shift()
      if (!place) return
      void this.#fetch(place)
    }
  }

  async #fetch(place: Place): Promise<void> {
    const key = keyOf(place)
    const abort = new AbortController()
    this.#under.set(key, abort)
    const query = `frequency_level=${place.f}&time_level=${place.t}&column=${place.column}&row=${place.row}&of=${this.of}`
    try {
      const answer = await fetched(`${this.path}/tile?${query}`, { signal: abort.signal })
      const codes = new Uint8Array(await answer.arrayBuffer())
      if (!this.#closed) this.#keep({ place, codes })
    } catch (error) {
      if (!abort.signal.aborted) {
        this.#failed.add(key)
        this.wrong(error)
      }
    } finally {
      this.#under.delete(key)
      if (!this.#closed) {
        this.#next()
        this.come()
      }
    }
  }

  #keep(tile: Tile): void {
    this.#kept.set(keyOf(tile.place), tile)
    let bytes = this.#kept.size * tile.codes.length
    for (const key of this.#kept.keys()) {
      if (bytes <= MOST_BYTES) break
      this.#kept.delete(key)
      bytes -= tile.codes.length
    }
  }
}
