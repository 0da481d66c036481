// What a hand does on the plot: wheel, drag, two fingers, a click, a long press.
import { moved, zoomed, type Bounds, type View } from './view'

export type Moves = {
  view: () => View
  within: () => Bounds
  /** Where x and y, in pixels of the element, lie as fractions of the view; y null on the trace. */
  at: (x: number, y: number) => { fx: number; fy: number | null }
  size: () => { width: number; height: number }
  show: (view: View) => void
  point: (x: number, y: number) => void
  leave: () => void
  click: (x: number, y: number) => void
}

/** A touch that rests so long reads the level instead of moving the view. */
const LONG_MS = 450
/** Moved no further than this, a press is a click. */
const STILL_PX = 5

export function handle(element: HTMLElement, moves: Moves): () => void {
  const pointers = new Map<number, { x: number; y: number }>()
  let start = { x: 0, y: 0 }
  let dragged = false
  let reading = false
  let long: ReturnType<typeof setTimeout> | undefined
  const place = (event: PointerEvent | WheelEvent | MouseEvent) => {
    const box = element.getBoundingClientRect()
    return { x: event.clientX - box.left, y: event.clientY - box.top }
  }

  function wheel(event: WheelEvent): void {
    event.preventDefault()
    const { x, y } = place(event)
    const { fx, fy } = moves.at(x, y)
    const lines = event.deltaMode === WheelEvent.DOM_DELTA_LINE ? 30 : 1
    const delta = (event.deltaY || event.deltaX) * lines
    const by = Math.exp(Math.max(-240, Math.min(240, delta)) * 0.0022)
    // On the trace and with Shift along frequency only, with Alt along time only.
    const byX = event.altKey ? 1 : by
    const byY = event.shiftKey || fy === null ? 1 : by
    moves.show(zoomed(moves.view(), fx, fy ?? 0.5, byX, byY, moves.within()))
  }

  function down(event: PointerEvent): void {
    if (event.button !== 0) return
    element.setPointerCapture(event.pointerId)
    const at = place(event)
    pointers.set(event.pointerId, at)
    start = at
    if (pointers.size > 1) {
      dragged = true
      clearTimeout(long)
      return
    }
    dragged = reading = false
    if (event.pointerType === 'touch') {
      long = setTimeout(() => {
        reading = !dragged
        if (reading) moves.point(at.x, at.y)
      }, LONG_MS)
    }
  }

  function move(event: PointerEvent): void {
    const at = place(event)
    const before = pointers.get(event.pointerId)
    if (event.pointerType !== 'touch' || reading) moves.point(at.x, at.y)
    if (!before || reading) return
    if (!dragged && Math.hypot(at.x - start.x, at.y - start.y) <= STILL_PX) return
    dragged = true
    clearTimeout(long)
    const { width, height } = moves.size()
    const others = [...pointers].filter(([id]) => id !== event.pointerId).map(([, p]) => p)
    pointers.set(event.pointerId, at)
    const other = others[0]
    const a = moves.at(before.x, before.y)
    const b = moves.at(at.x, at.y)
    if (other) {
      // Two fingers: the farther apart along an axis, the closer along it.
      const middle = moves.at((at.x + other.x) / 2, (at.y + other.y) / 2)
      const apart = (p: number, q: number) => Math.max(Math.abs(p - q), 24)
      const byX = apart(before.x, other.x) / apart(at.x, other.x)
      const byY = apart(before.y, other.y) / apart(at.y, other.y)
      moves.show(zoomed(moves.view(), middle.fx, middle.fy ?? 0.5, byX, middle.fy === null ? 1 : byY, moves.within()))
      return
    }
    const inTime = a.fy !== null && b.fy !== null
    moves.show(moved(moves.view(), (before.x - at.x) / width, inTime ? (before.y - at.y) / height : 0, moves.within()))
  }

  function up(event: PointerEvent): void {
    clearTimeout(long)
    const was = pointers.delete(event.pointerId)
    if (was && !dragged && !reading && event.type === 'pointerup') {
      const { x, y } = place(event)
      moves.click(x, y)
    }
  }

  function twice(event: MouseEvent): void {
    const { x, y } = place(event)
    const { fx, fy } = moves.at(x, y)
    moves.show(zoomed(moves.view(), fx, fy ?? 0.5, 0.4, fy === null ? 1 : 0.4, moves.within()))
  }

  const leave = (event: PointerEvent) => event.pointerType !== 'touch' && moves.leave()
  element.addEventListener('wheel', wheel, { passive: false })
  element.addEventListener('pointerdown', down)
  element.addEventListener('pointermove', move)
  element.addEventListener('pointerup', up)
  element.addEventListener('pointercancel', up)
  element.addEventListener('pointerleave', leave)
  element.addEventListener('dblclick', twice)
  return () => {
    clearTimeout(long)
    element.removeEventListener('wheel', wheel)
    element.removeEventListener('pointerdown', down)
    element.removeEventListener('pointermove', move)
    element.removeEventListener('pointerup', up)
    element.removeEventListener('pointercancel', up)
    element.removeEventListener('pointerleave', leave)
    element.removeEventListener('dblclick', twice)
  }
}
