// Recordings that journeys make themselves, at known frequencies and times, and how they are brought in.

/** Rails of noise, `amplitude` at most, the same on every machine. */
export function noise(length, amplitude, of = Int16Array) {
  const rails = new of(length)
  let seed = 12345
  for (let n = 0; n < length; n++) {
    seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0
    rails[n] = Math.round(amplitude * ((seed / 2 ** 32) * 2 - 1))
  }
  return rails
}

/** Adds a tone to rails from one sample to another; `turns` a sample. */
export function tone(rails, turns, amplitude, from = 0, until = rails.length / 2) {
  for (let n = from; n < until; n++) {
    rails[2 * n] += Math.round(amplitude * Math.cos(2 * Math.PI * turns * n))
    rails[2 * n + 1] += Math.round(amplitude * Math.sin(2 * Math.PI * turns * n))
  }
  return rails
}

export async function said(url, path, init) {
  const answer = await fetch(new URL(path, url), init)
  if (!answer.ok) throw new Error(`${path}: ${await answer.text()}`)
  return answer.json()
}

export const json = (body) => ({ method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) })

/** Brings a recording into a survey and waits until it was taken in. */
export async function add(url, survey, { name, rails, rateHz, centreHz, start, role, at }) {
  const base = `/api/surveys/${survey}`
  const { upload } = await said(url, `${base}/uploads`, json(null))
  const meta = {
    global: { 'core:datatype': rails instanceof Int8Array ? 'ci8' : 'ci16_le', 'core:sample_rate': rateHz, 'core:version': '1.2.0' },
    captures: [{ 'core:sample_start': 0, 'core:frequency': centreHz, 'core:datetime': start }], annotations: [],
  }
  await said(url, `${base}/uploads/${upload}/${name}.sigmf-data`, { method: 'PUT', body: new Uint8Array(rails.buffer) })
  await said(url, `${base}/uploads/${upload}/${name}.sigmf-meta`, { method: 'PUT', body: JSON.stringify(meta) })
  const job = await said(url, `${base}/imports`, json({ upload, role, at, chain: 'receiver A' }))
  for (;;) {
    const now = await said(url, `${base}/jobs/${job.id}`)
    if (now.state === 'done') return
    if (now.state !== 'running') throw new Error(JSON.stringify(now))
    await new Promise((wait) => setTimeout(wait, 100))
  }
}

/** Waits until all that was brought in is analysed. */
export async function analysed(url, survey) {
  while ((await said(url, `/api/surveys/${survey}/ledger`)).waiting > 0) await new Promise((wait) => setTimeout(wait, 200))
}
