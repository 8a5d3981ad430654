// The brush of the time line.  A drag on free ground draws a segment, near an edge it moves the edge, inside the
// frame it moves the segment; a double click takes the whole match.  One question is under way at a time: the
// next one waits for the answer, so a fast hand never piles up work for Python.
//
// Arguments: fig, asked, shown, before, after, frame, total.

const B = fig.__brush ?? (fig.__brush = {
  a: 0, b: total, whole: true, mode: null, busy: false, sent_at: 0, pending: null, nonce: 0,
})

function draw() {
  before.setv({right: B.a, visible: !B.whole})
  after.setv({left: B.b, visible: !B.whole})
  frame.setv({left: B.a, right: B.b, visible: !B.whole})
}

function send() {
  const now = performance.now()
  if (B.busy && now - B.sent_at < 2000) { B.pending = true; return }
  B.busy = true
  B.pending = null
  B.sent_at = now
  B.nonce += 1
  asked.data = {a: [B.whole ? 0 : B.a], b: [B.whole ? total : B.b], nonce: [B.nonce]}
}

const clip = (t) => Math.min(total, Math.max(0, t))

switch (cb_obj.event_name ?? cb_obj.name) {
  case "panstart": {
    const per_px = (fig.x_range.end - fig.x_range.start) / (fig.inner_width || 1000)
    const x = clip(cb_obj.x)
    const near = 8 * per_px
    if (!B.whole && Math.abs(x - B.a) <= near) { B.mode = "left"; B.fixed = B.b }
    else if (!B.whole && Math.abs(x - B.b) <= near) { B.mode = "right"; B.fixed = B.a }
    else if (!B.whole && x > B.a && x < B.b) { B.mode = "move"; B.grip = x - B.a }
    else { B.mode = "new"; B.fixed = x }
    break
  }
  case "pan":
  case "panend": {
    if (B.mode == null) { break }
    if (Number.isFinite(cb_obj.x)) {
      const x = clip(cb_obj.x)
      if (B.mode == "move") {
        const length = B.b - B.a
        B.a = Math.min(Math.max(0, x - B.grip), total - length)
        B.b = B.a + length
      } else {
        B.a = Math.min(x, B.fixed)
        B.b = Math.max(x, B.fixed)
      }
      B.whole = false
    }
    draw()
    if (B.b - B.a >= 1) { send() }
    if (cb_obj.event_name == "panend") { B.mode = null }
    break
  }
  case "doubletap": {
    B.whole = true; B.a = 0; B.b = total
    draw()
    send()
    break
  }
  case "brush-shown":
  case "timeline": {
    const d = shown.data
    if (cb_obj.name == "brush-shown") {
      B.busy = false
      if (B.pending) { send(); break }
    }
    if (B.mode == null) {
      B.a = d.a[0]; B.b = d.b[0]; B.whole = d.whole[0] == 1
      draw()
    }
    break
  }
}
