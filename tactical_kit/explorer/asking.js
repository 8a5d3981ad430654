// Forms written as HTML (`words.py`): what a hand does in them becomes one question to Python at a time.
//
// An element with `data-ask` asks when it is clicked (buttons, rows) or changed (fields); all its data travel with
// the question.  On `data-brush` a drag asks for a range, shares from 0 to 1 of its width.  While Python searches
// longer than a moment, every `data-busy` says so and counts the seconds.  A drag that is faster than the answers
// asks again when the answer is there, for where the hand is then.
//
// Arguments: places, asked, answered.

const A = asked.__asking ?? (asked.__asking = {nonce: 0, busy: false, since: 0, pending: null, drag: null, timer: null})

function view_of(model) { return model.document?.views_manager?.find_one(model) }

function say_busy() {
  const seconds = (performance.now() - A.since) / 1000
  for (const place of places) {
    for (const el of view_of(place)?.shadow_el.querySelectorAll("[data-busy]") ?? []) {
      el.hidden = !(A.busy && seconds > 0.25)
      if (!el.hidden) { el.textContent = `${el.dataset.busy} ${Math.floor(seconds)} s` }
    }
  }
  if (!A.busy || seconds > 120) { clearInterval(A.timer); A.timer = null }
}

function send(question) {
  const now = performance.now()
  if (A.busy && now - A.since < 5000 && question.drag) { A.pending = question; return }
  A.busy = true
  A.since = now
  A.pending = null
  A.nonce += 1
  asked.data = {question: [JSON.stringify(question)], nonce: [A.nonce]}
  A.timer ??= setInterval(say_busy, 250)
}

function answer() {
  A.busy = false
  say_busy()
  if (A.pending != null) { send(A.pending) }
}

function question_of(el, more) {
  return {...el.dataset, value: el.dataset.value ?? el.value ?? "", checked: el.checked ?? false, ...more}
}

function share_of(root, event) {
  const el = root.querySelector(`[data-brush="${CSS.escape(A.drag.column)}"]`)
  if (el == null) { return null }
  const r = el.getBoundingClientRect()
  return Math.min(1, Math.max(0, (event.clientX - r.left) / r.width))
}

function drag(root, event, done) {
  const at = share_of(root, event)
  if (at == null) { return }
  const moved = Math.abs(event.clientX - A.drag.x) >= 4
  A.drag.moved ||= moved
  if (!A.drag.moved && !done) { return }
  const [a, b] = A.drag.moved ? [Math.min(A.drag.start, at), Math.max(A.drag.start, at)] : [0, 1]
  send({ask: "brush", column: A.drag.column, a, b, drag: !done})
}

function light_host(el) { // the outermost element that the page itself holds
  let host = el
  while (host.getRootNode() instanceof ShadowRoot) { host = host.getRootNode().host }
  return host
}

function attach(place) {
  const view = view_of(place)
  const root = view?.shadow_el
  if (root == null || root.__asks) { return }
  root.__asks = true
  if (light_host(view.el).clientWidth < 1040) { // what is secondary is folded on a narrow page
    for (const fold of root.querySelectorAll("details[data-narrow]")) { fold.open = false }
  }
  root.addEventListener("click", (event) => {
    const el = event.target.closest("[data-ask]")
    if (el == null || el.matches("input, select, textarea")) { return }
    send(question_of(el, Object.fromEntries([...(el.closest("form")?.elements ?? [])]
      .filter((e) => e.name != "").map((e) => [e.name, e.value]))))
  })
  root.addEventListener("submit", (event) => event.preventDefault())
  root.addEventListener("change", (event) => {
    const el = event.target.closest("[data-ask]")
    if (el?.matches("input, select, textarea")) { send(question_of(el, {})) }
  })
  root.addEventListener("keydown", (event) => { // up and down the rows of a list
    const step = {ArrowDown: 1, ArrowUp: -1}[event.key]
    const row = event.target.closest("tr")
    if (step == null || row == null || event.target.tagName != "BUTTON") { return }
    const rows = [...root.querySelectorAll("tbody tr button")]
    const next = rows[rows.indexOf(event.target) + step]
    if (next != null) { next.focus(); event.preventDefault() }
  })
  // While the hand presses, nothing below it is replaced: the click would be lost.
  root.addEventListener("pointerdown", (event) => {
    if (event.target.closest("[data-brush]")) { return }
    root.__held = true
    const free = () => setTimeout(() => {
      root.__held = false
      root.__replace?.()
    }, 0)
    addEventListener("pointerup", free, {once: true})
    addEventListener("pointercancel", free, {once: true})
  })
  root.addEventListener("pointerdown", (event) => {
    const el = event.target.closest("[data-brush]")
    if (el == null || event.button != 0) { return }
    A.drag = {column: el.dataset.brush, x: event.clientX, moved: false}
    A.drag.start = share_of(root, event)
    event.preventDefault()
    const move = (e) => drag(root, e, false)
    const up = (e) => {
      removeEventListener("pointermove", move); removeEventListener("pointerup", up)
      removeEventListener("pointercancel", up)
      drag(root, e, true)
      A.drag = null
    }
    addEventListener("pointermove", move); addEventListener("pointerup", up); addEventListener("pointercancel", up)
  })
  // In a notebook single letters are commands; not while one types here.
  root.addEventListener("focusin", () => light_host(view.el).setAttribute("data-lm-suppress-shortcuts", "true"))
  root.addEventListener("focusout", () => light_host(view.el).removeAttribute("data-lm-suppress-shortcuts"))
}

if (cb_obj === answered) { answer() }
for (const place of places) { attach(place) }
