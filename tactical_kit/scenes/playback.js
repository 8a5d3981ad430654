// The moving pitch, browser side.  Frames arrive from Python as packed int16 centimetres, one chunk a minute;
// between two frames the places are interpolated here, and the arrays of the figure's sources are changed in
// place, so that nothing travels while the match plays but the next chunk and, a few times a second, the cursor.
//
// Arguments (see playback.py): config, fig, home, away, ball, trails, words, command, chunk, want, report,
// place, play, speed, loop, names, trail_toggle, number_text, name_text, cursors.

const KEY = "__moving_pitch"
const GAP = -32768 // int16 for "not in the data"

function make_player() {
  const c = config
  const S = {
    t: c.at, from: null, until: null, playing: false, speed: 1, turn: c.turn, chunks: new Map(), asked: new Map(),
    last: 0, raf: null, told: -1, told_at: 0, said_at: 0, label_mode: 0, serial: -1, loop: false, scroll: null,
  }
  const P = c.team.length
  const side = [home, away]
  const slot = new Array(P) // place of a player within the source of his side
  const counts = [0, 0]
  for (let p = 0; p < P; p++) { slot[p] = counts[c.team[p]]++ }

  function find(list, value) { // index of the last entry <= value, or -1
    let low = 0, high = list.length
    while (low < high) { const mid = (low + high) >> 1; if (list[mid] <= value) { low = mid + 1 } else { high = mid } }
    return low - 1
  }

  function unpack(packed, head) { // head: id, frames; packed: xy of all, ball, then times as float64
    const [id, n] = head
    const flat = new Int16Array(packed.buffer, packed.byteOffset, packed.length) // plain: Bokeh's own has no subarray
    const xy = flat.subarray(0, n * P * 2)
    const b = flat.subarray(n * P * 2, n * P * 2 + n * 3)
    const bytes = flat.slice(n * P * 2 + n * 3)
    const t = new Float64Array(bytes.buffer, bytes.byteOffset, n)
    S.chunks.delete(id)
    S.chunks.set(id, {n, xy, b, t})
    S.asked.delete(id)
    while (S.chunks.size > 8) { S.chunks.delete(S.chunks.keys().next().value) }
  }

  function chunk_of(t) { return Math.max(0, find(c.starts, t + 1e-6)) }

  function ask(...ids) { // one request for all that is missing
    const now = performance.now()
    const missing = ids.filter((k) => k >= 0 && k < c.starts.length && !S.chunks.has(k)
      && !(now - (S.asked.get(k) ?? -1e9) < 3000))
    if (missing.length == 0) { return }
    for (const k of missing) { S.asked.set(k, now) }
    want.data = {chunk: missing, nonce: missing.map(() => now)}
  }

  // Fill `out` (2 * P metres, then ball x, y, z) with the places at t; false if the chunk is not here yet.
  const out = new Float64Array(2 * P + 3)
  function places(t) {
    const k = chunk_of(t)
    const got = S.chunks.get(k)
    if (!got) { return false }
    const i = Math.max(0, find(got.t, t + 1e-6))
    const j = Math.min(i + 1, got.n - 1)
    const step = got.t[j] - got.t[i]
    const whole = j > i && step > 0 && step < 1.5 / c.rate && !c.breaks.some((b) => got.t[i] < b && b <= got.t[j])
    const f = whole ? Math.min(1, Math.max(0, (t - got.t[i]) / step)) : 0
    if (Math.abs(t - got.t[i]) > 1 && !whole) { out.fill(NaN); return true } // no data here
    const mix = (list, a, b) => {
      const u = list[a], v = list[b]
      if (u == GAP) { return NaN }
      return (f == 0 || v == GAP ? u : u + (v - u) * f) / 100
    }
    for (let q = 0; q < 2 * P; q++) { out[q] = S.turn * mix(got.xy, i * 2 * P + q, j * 2 * P + q) }
    out[2 * P] = S.turn * mix(got.b, i * 3, j * 3)
    out[2 * P + 1] = S.turn * mix(got.b, i * 3 + 1, j * 3 + 1)
    out[2 * P + 2] = mix(got.b, i * 3 + 2, j * 3 + 2)
    return true
  }

  const per_trail = c.trail_points + 1 // the last point is NaN and parts one trail from the next
  function draw_trails(t) {
    const lines = [trails[0].data, trails[1].data, trails[2].data]
    for (const line of lines) { line.x.fill(NaN); line.y.fill(NaN) }
    if (!trail_toggle.active) { for (const s of trails) { s.change.emit() } return }
    const first = c.period_starts[Math.max(0, find(c.period_starts, t + 1e-6))]
    for (let m = 0; m < c.trail_points; m++) {
      const back = t - (c.trail_points - 1 - m) * c.trail_s / (c.trail_points - 1)
      if (back < first || !places(back)) { continue }
      for (let p = 0; p < P; p++) {
        const line = lines[c.team[p]]
        line.x[slot[p] * per_trail + m] = out[2 * p]
        line.y[slot[p] * per_trail + m] = out[2 * p + 1]
      }
      lines[2].x[m] = out[2 * P]
      lines[2].y[m] = out[2 * P + 1]
    }
    for (const s of trails) { s.change.emit() }
  }

  function clock(t) {
    const k = Math.max(0, find(c.period_starts, t + 1e-6))
    const seconds = Math.floor(t - c.period_starts[k] + 1e-6)
    const minute = Math.floor(seconds / 60), rest = String(seconds % 60).padStart(2, "0")
    const start = c.clock_start[k], length = c.clock_length[k]
    if (minute >= length) { return `${start + length}+${minute - length}:${rest}` }
    return `${String(start + minute).padStart(2, "0")}:${rest}`
  }

  function phase_at(s, t) {
    const list = c.phases[s]
    const i = find(list.start, t + 1e-6)
    if (i < 0 || !(t < list.end[i])) { return "" }
    return c.phase_words[list.code[i]] + (list.estimated[i] ? " (estimated)" : "")
  }

  function say(t, force) {
    const now = performance.now()
    if (!force && now - S.said_at < 90) { return }
    S.said_at = now
    const k = Math.max(0, find(c.period_starts, t + 1e-6))
    const lines = [clock(t), `${c.period_names[k]}${S.waiting ? " · waiting for data" : ""}`]
    const here = [phase_at(0, t), phase_at(1, t)]
    for (const s of [0, 1]) { lines.push(here[s] ? `${c.sides[s]}\n${here[s]}` : c.sides[s]) }
    let changed = false
    for (let n = 0; n < 4; n++) { if (words.data.text[n] != lines[n]) { words.data.text[n] = lines[n]; changed = true } }
    const [first, second] = S.turn > 0 ? [c.sides[0], c.sides[1]] : [c.sides[1], c.sides[0]]
    const way = `${first} attack →        ← ${second} attack`
    if (words.data.text[4] != way) { words.data.text[4] = way; changed = true }
    if (changed) { words.change.emit() }
    if (force || now - (S.aria_at ?? 0) > 1000) {
      S.aria_at = now
      const el = element()
      if (el) { el.setAttribute("aria-label", `Moving pitch, ${lines.join(", ").replaceAll("\n", ": ")}. ${c.help}`) }
    }
  }

  function draw(t, force) {
    if (trail_toggle.active || force) { draw_trails(t) }
    if (!places(t)) { return false }
    for (let p = 0; p < P; p++) {
      const data = side[c.team[p]].data
      data.x[slot[p]] = out[2 * p]
      data.y[slot[p]] = out[2 * p + 1]
      data.y_name[slot[p]] = out[2 * p + 1] - 2.9
    }
    ball.data.x[0] = out[2 * P]
    ball.data.y[0] = out[2 * P + 1]
    ball.data.size[0] = 8 + Math.min(8, Math.max(0, out[2 * P + 2] || 0) * 1.2)
    home.change.emit(); away.change.emit(); ball.change.emit()
    for (const span of cursors) { span.location = t }
    say(t, force)
    return true
  }

  function tell(force) { // the cursor, at most four times a second
    const now = performance.now()
    if (Math.abs(S.t - S.told) < 1e-3 && !force) { return }
    if (!force && now - S.told_at < 500) { return }
    S.told = S.t; S.told_at = now
    report.data = {t: [S.t], playing: [S.playing ? 1 : 0]}
  }

  function element() {
    return fig.document?.views_manager?.find_one(fig)?.el ?? null
  }

  function show_play() { play.label = S.playing ? "Pause" : "Play" }

  function stop() {
    S.playing = false
    if (S.raf != null) { cancelAnimationFrame(S.raf); S.raf = null }
    show_play()
  }

  function step(now) {
    S.raf = null
    if (!S.playing) { return }
    const el = element()
    if (!el || !el.isConnected) { stop(); return }
    const dt = Math.min(Math.max(now - S.last, 0) / 1000, 0.25)
    S.last = now
    let t = S.t + dt * S.speed
    const end = S.until ?? c.end
    let over = false
    if (t >= end) {
      if (S.loop) { t = S.from ?? c.starts[0] } else { t = end; over = true }
    }
    const k = chunk_of(t)
    ask(k, k + 1)
    const before = S.t
    S.t = t
    S.waiting = !draw(t, false)
    if (S.waiting) { S.t = before; say(before, true) }
    if (over && !S.waiting) { stop(); draw(S.t, true); tell(true); return }
    tell(false)
    S.raf = requestAnimationFrame(step)
  }

  S.start = () => {
    if (S.playing) { return }
    if (S.t >= (S.until ?? c.end) - 1e-3) { S.t = S.from ?? c.starts[0] }
    S.playing = true
    S.last = performance.now()
    show_play()
    S.raf = requestAnimationFrame(step)
  }
  S.pause = () => { stop(); draw(S.t, true); tell(true) }
  S.toggle = () => S.playing ? S.pause() : S.start()
  S.seek = (t) => {
    S.t = Math.min(Math.max(t, c.starts[0]), c.end)
    if (S.until != null && (S.t > S.until || S.t < S.from)) {
      S.from = null; S.until = null
      if (S.marked) { mark([], NaN, NaN) }
    }
    const k = chunk_of(S.t)
    ask(k, k - 1, k + 1)
    S.waiting = !draw(S.t, true)
    if (S.waiting) { say(S.t, true) }
    if (!S.playing) { tell(true) }
  }
  S.by = (seconds) => S.seek(S.t + seconds)
  S.frame = (n) => { // to the grid of frames of the period
    if (S.playing) { S.pause() }
    const first = c.period_starts[Math.max(0, find(c.period_starts, S.t + 1e-6))]
    S.seek(first + (Math.round((S.t - first) * c.rate) + n) / c.rate)
  }
  S.set_speed = (index) => {
    const n = Math.min(Math.max(index, 0), c.speeds.length - 1)
    S.speed = c.speeds[n]
    if (speed.active != n) { speed.active = n }
  }
  S.set_labels = (mode) => {
    S.label_mode = mode % 3
    number_text[0].visible = number_text[1].visible = S.label_mode < 2
    name_text[0].visible = name_text[1].visible = S.label_mode == 1
    names.label = ["Labels: numbers", "Labels: names", "Labels: none"][S.label_mode]
  }
  S.redraw = () => draw(S.t, true)

  function mark(ring, x, y) { // who is involved has a ring, a cross is where it was
    for (const s of side) { s.data.line.fill(c.rings.plain[0]); s.data.edge.fill(c.rings.plain[1]) }
    for (const p of ring) {
      side[c.team[p]].data.line[slot[p]] = c.rings.involved[0]
      side[c.team[p]].data.edge[slot[p]] = c.rings.involved[1]
    }
    S.marked = ring.length > 0 || Number.isFinite(x)
    place.data.x[0] = S.turn * x
    place.data.y[0] = S.turn * y
    place.change.emit()
  }

  S.obey = () => { // a command from Python
    const d = command.data
    if (d.serial[0] == S.serial) { return }
    S.serial = d.serial[0]
    if (S.playing) { stop() }
    S.turn = d.turn[0]
    S.from = d.t[0]
    S.until = Number.isFinite(d.until[0]) ? d.until[0] : null
    S.wish = d.play[0] == 1
    mark(d.ring[0] == "" ? [] : d.ring[0].split(",").map(Number), d.place_x[0], d.place_y[0])
    S.seek(d.t[0])
    if (S.wish && !S.waiting) { S.wish = false; S.start() }
  }
  S.take = () => { // a chunk from Python
    for (let n = 0; n < chunk.data.head.length; n++) {
      const flat = chunk.data.packed[n]
      if (flat && flat.length) { unpack(flat, chunk.data.head[n]) }
    }
    if (!S.playing) {
      S.waiting = !draw(S.t, true)
      if (S.wish && !S.waiting) { S.wish = false; S.start() }
    }
  }

  const keys = {
    " ": () => S.toggle(),
    ArrowLeft: (e) => e.shiftKey ? S.frame(-1) : S.by(-1),
    ArrowRight: (e) => e.shiftKey ? S.frame(1) : S.by(1),
    ",": () => S.frame(-1), ".": () => S.frame(1),
    PageUp: () => S.by(-10), PageDown: () => S.by(10),
    ArrowUp: () => S.set_speed(speed.active + 1), ArrowDown: () => S.set_speed(speed.active - 1),
    Home: () => S.seek(S.from ?? c.period_starts[Math.max(0, find(c.period_starts, S.t - 1e-6))]),
    l: () => { loop.active = !loop.active }, n: () => S.set_labels(S.label_mode + 1),
    t: () => { trail_toggle.active = !trail_toggle.active },
  }
  S.init = () => { // the view may be made anew (a cell run again, a page laid out again)
    const el = element()
    if (!el || el === S.el) { return }
    S.el = el
    el.tabIndex = 0
    el.setAttribute("role", "group")
    el.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) { return }
      const act = keys[event.key.length == 1 ? event.key.toLowerCase() : event.key]
      if (!act) { return }
      event.preventDefault()
      event.stopPropagation()
      act(event)
    })
    el.addEventListener("pointerdown", () => el.focus({preventScroll: true}))
    S.set_speed(speed.active ?? 1)
    S.take()
    S.obey()
    draw(S.t, true)
  }
  return S
}

const S = fig[KEY] ?? (fig[KEY] = make_player())
const who = (cb_obj.origin ?? cb_obj).name ?? "" // an event names the model it comes from
const by_name = {
  "playback-figure": () => S.init(),
  "playback-command": () => { S.init(); S.obey() },
  "playback-chunk": () => S.take(),
  "playback-play": () => S.toggle(),
  "playback-back": () => S.by(-1),
  "playback-forward": () => S.by(1),
  "playback-frame-back": () => S.frame(-1),
  "playback-frame-forward": () => S.frame(1),
  "playback-speed": () => S.set_speed(speed.active),
  "playback-loop": () => { S.loop = loop.active },
  "playback-labels": () => S.set_labels(S.label_mode + 1),
  "playback-trails": () => S.redraw(),
}
by_name[who]?.()
