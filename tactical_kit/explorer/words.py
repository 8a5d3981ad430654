"""Words on the page that change with every filter, written into it without laying it out anew.

Bokeh computes the whole layout again when the text of one `Div` changes (some 50 ms with this page), and a
filter changes a dozen of them.  Here they all travel as one small table, and the browser puts each into its
place; the style sheets of the page let it flow.
"""

from __future__ import annotations

from typing import Any

from bokeh.models import ColumnDataSource, CustomJS, Div

__all__ = ["Words"]

_CODE = """
const {slot, html} = source.data
for (let i = 0; i < slot.length; i++) {
  const div = divs[slot[i]]
  div.setv({text: html[i]}, {silent: true}) // for the day it is drawn anew
  const view = div.document?.views_manager?.find_one(div)
  if (view?.markup_el) { view.markup_el.innerHTML = html[i] }
}
"""


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
        self._divs: dict[str, Div] = {}
        self._shown: dict[str, str] = {}
        self._pending: dict[str, str] = {}

    def place(self, name: str, **look: Any) -> Div:
        """Make the place for some words; `look` goes to the `Div`."""
        div = Div(text="", name=name, sizing_mode="stretch_width", **look)
        self._divs[name], self._shown[name] = div, ""
        return div

    def write(self, name: str, text: str) -> None:
        """Replace the words of a place by HTML, escaped already; they leave with `send`."""
        if self._shown[name] == text:
            return
        self._shown[name] = text
        if self._divs[name].document is None:  # not displayed yet
            self._divs[name].text = text
        else:
            self._pending[name] = text

    def shown(self, name: str) -> str:
        """Return the HTML last written to a place."""
        return self._shown[name]

    def send(self) -> None:
        """Send what was written since the last time."""
        if self._pending:
            self.source.data = {"slot": list(self._pending), "html": list(self._pending.values())}
            self._pending = {}

    def wire(self) -> None:
        """Connect the browser's side, once all places are made."""
        self.source.js_on_change("data", CustomJS(args={"source": self.source, "divs": self._divs}, code=_CODE))
        # A source travels with the page only if something on the page refers to it.
        for div in self._divs.values():
            div.tags = [self.source]
            break
