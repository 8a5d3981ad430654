"""Questions from forms that are written as HTML: one small message each, one answer each.

Widgets of Bokeh are laid out anew whenever one of them changes, and the fields of a finder change with every finder.
They are HTML in a few places of the page instead, and what is done in them arrives here.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import AbstractContextManager
from importlib import resources
from typing import Any

from bokeh.models import ColumnDataSource, CustomJS

from tactical_kit.errors import TacticalKitError

__all__ = ["Asking"]

Question = dict[str, Any]


class Asking:
    """The questions of one page.

    Parameters
    ----------
    batch : callable
        Makes the context in which models are changed.
    refuse : callable
        Called with the sentence when a question is refused ("" when one was answered), and the name of the question.
    """

    def __init__(self, batch: Callable[[], AbstractContextManager[None]], refuse: Callable[[str, str], None]) -> None:
        self._batch, self._refuse = batch, refuse
        self._acts: dict[str, Callable[[Question], None]] = {}
        self._places: list[Any] = []
        self.asked = ColumnDataSource({"question": [], "nonce": []}, name="asked")
        self.answered = ColumnDataSource({"nonce": []}, name="answered")
        self.asked.on_change("data", self._came)

    def on(self, ask: str, act: Callable[[Question], None]) -> None:
        """Call `act` with every question of that name."""
        self._acts[ask] = act

    def listen_to(self, *places: Any) -> None:
        """Take questions from these places."""
        self._places += places

    def ask(self, **question: Any) -> None:
        """Put a question as the page does."""
        self._came("data", None, {"question": [json.dumps(question)], "nonce": [0]})

    def _came(self, attr: str, old: Any, new: dict[str, Any]) -> None:
        if len(new.get("question", ())) != 1:
            return
        refused = name = ""
        try:
            question = json.loads(new["question"][0])
            name = str(question.get("ask", ""))
            act = self._acts.get(name)
            if act is not None:
                act(question)
        except TacticalKitError as error:
            refused = str(error)
        with self._batch():
            self._refuse(refused, name)
            self.answered.data = {"nonce": [new["nonce"][0]]}

    def wire(self, figure: Any) -> None:
        """Connect the browser's side, once all places are known; `figure` tells when the page stands."""
        code = resources.files("tactical_kit.explorer").joinpath("asking.js").read_text(encoding="utf-8")
        js = CustomJS(args={"places": self._places, "asked": self.asked, "answered": self.answered}, code=code)
        self.answered.js_on_change("data", js)
        figure.js_on_change("inner_width", js)
