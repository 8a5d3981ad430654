"""Words on the page that change with every filter, written into it without laying it out anew.

Bokeh computes the whole layout again when the text of one `Div` or one label of a group changes (some 10 to 50 ms
with this page), and a filter changes a dozen of them.  Here they all travel as one small table, and the browser
puts each into its place; the style sheets of the page let it flow.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from bokeh.models import ColumnDataSource, CustomJS, Div

__all__ = ["Words"]

_CODE = """
const {slot, html} = source.data
const view_of = (model) => {
  if (!model.__shown_by?.el?.isConnected) { model.__shown_by = model.document?.views_manager?.find_one(model) }
  return model.__shown_by
}
// The hand stays where it is: the field that has the focus keeps it, and what is unfolded stays so.
const replace = (view, text) => {
  if (view.shadow_el.__held) {
    view.shadow_el.__replace = () => { view.shadow_el.__replace = null; replace(view, text) }
    return
  }
  const el = view.markup_el, key = (e) => e?.dataset?.key ?? ""
  const active = view.shadow_el.activeElement
  const held = key(active)
  const typed = active?.value, dirty = typed !== undefined && typed !== active.defaultValue && active.type == "text"
  const folds = Object.fromEntries([...el.querySelectorAll("details[data-key]")].map(d => [key(d), d.open]))
  el.innerHTML = text
  for (const d of el.querySelectorAll("details[data-key]")) { if (key(d) in folds) { d.open = folds[key(d)] } }
  const again = held && [...el.querySelectorAll("[data-key]")].find(e => key(e) == held)
  if (again) {
    again.focus({preventScroll: true})
    if (dirty) { again.value = typed }
  }
}
for (let i = 0; i < slot.length; i++) {
  const model = places[slot[i]]
  const view = view_of(model)
  if (model.type == "Div") {
    model.setv({text: html[i]}, {silent: true}) // for the day it is drawn anew
    if (view?.markup_el) { replace(view, html[i]) }
    continue
  }
  const labels = JSON.parse(html[i])
  const find = () => [...(view?.shadow_el.querySelectorAll("label > span, button") ?? [])]
  let places_of = find()
  if (model.labels.length != labels.length) {
    model.setv({labels: labels.map(l => l[0])}, {silent: true})
    view?.rerender()
    places_of = find()
  } else {
    model.setv({labels: labels.map(l => l[0])}, {silent: true})
  }
  labels.forEach(([text, count], k) => {
    const el = places_of[k]
    if (el == null) { return }
    el.textContent = text
    if (count != null) {
      const number = document.createElement("span")
      number.className = "tk-count"
      number.textContent = ` ${count}`
      el.append(number)
    }
    const box = el.closest("label") ?? el
    box.classList.toggle("tk-none", count === 0)
  })
}
"""

Label = tuple[str, int | None]


class Words:
    """The changing words of one page.

    >>> words = Words()
    >>> place = words.place("said", margin=0)
    >>> words.write("said", "<b>hello</b>")
    >>> place.text
    '<b>hello</b>'
    """

    def __init__(self) -> None:
        self.source = ColumnDataSource({"slot": [], "html": []}, name="words")
        self._places: dict[str, Any] = {}
        self._shown: dict[str, str] = {}
        self._pending: dict[str, str] = {}

    def place(self, name: str, **look: Any) -> Div:
        """Make the place for some words; `look` goes to the `Div`."""
        div = Div(text="", name=name, sizing_mode="stretch_width", **look)
        self._places[name], self._shown[name] = div, ""
        return div

    def label(self, name: str, group: Any) -> None:
        """Let the labels of a group of buttons or boxes be written by `write_labels`."""
        self._places[name], self._shown[name] = group, ""

    def write(self, name: str, text: str) -> None:
        """Replace the words of a place by HTML, escaped already; they leave with `send`."""
        if self._shown[name] == text:
            return
        self._shown[name] = text
        if self._places[name].document is None:  # not displayed yet
            self._places[name].text = text
        else:
            self._pending[name] = text

    def write_labels(self, name: str, labels: Sequence[Label]) -> None:
        """Replace the labels of a group: text and, if not None, a count that stands behind it, grey if it is 0.

        They are plain text.  The number of labels may change, too.
        """
        text = json.dumps([list(label) for label in labels])
        if self._shown[name] == text:
            return
        self._shown[name] = text
        if self._places[name].document is None:
            self._places[name].labels = [label for label, _ in labels]
        self._pending[name] = text  # the counts are written in the browser alone

    def shown(self, name: str) -> str:
        """Return what was last written to a place: HTML, or labels with their counts as JSON."""
        return self._shown[name]

    def forget(self, name: str) -> None:
        """Send a place at the next `write` even if nothing changed: the browser has made it anew."""
        self._shown[name] = ""

    def send(self) -> None:
        """Send what was written since the last time."""
        if self._pending:
            self.source.data = {"slot": list(self._pending), "html": list(self._pending.values())}
            self._pending = {}

    def wire(self, figure: Any) -> None:
        """Connect the browser's side, once all places are made; `figure` tells when the page stands."""
        self.send()
        code = CustomJS(args={"source": self.source, "places": self._places}, code=_CODE)
        self.source.js_on_change("data", code)
        figure.js_on_change("inner_width", code)  # counts that were written before the page was shown
        # A source travels with the page only if something on the page refers to it.
        next(iter(self._places.values())).tags = [self.source]
