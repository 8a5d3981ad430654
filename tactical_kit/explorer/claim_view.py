"""The form that makes a claim of what is shown, with its verdict and its counterexamples."""

from __future__ import annotations

import html
from typing import Any

from bokeh.models import Column

from tactical_kit.claims.shares import Claim
from tactical_kit.claims.sheet_run import CheckedClaim
from tactical_kit.claims.words import SHARE_WORDS
from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.asking import Asking
from tactical_kit.explorer.claiming import MORE_IN, Claiming
from tactical_kit.explorer.look import Look
from tactical_kit.explorer.values import name_of
from tactical_kit.explorer.words import Words

__all__ = ["ClaimView"]

_SHOWN = 24  # counterexamples


class ClaimView:
    """The claim that is being written; it is counted only while the form is unfolded.

    Parameters
    ----------
    claiming : Claiming
        The claim and its sheet.
    look, words, asking
        As in `FinderView`.
    """

    def __init__(self, claiming: Claiming, look: Look, words: Words, asking: Asking) -> None:
        self.claiming, self.words = claiming, words
        self.shown = False
        self.refused = ""
        look_of: dict[str, Any] = {"margin": (0, 0, 0, 0), "stylesheets": [look.form]}
        self.places = [
            words.place(name, css_classes=[f"tk-{name.partition('-')[2]}"], **look_of)
            for name in ("claim-form", "claim-verdict", "claim-sheet")
        ]
        asking.listen_to(*self.places)
        asking.on("claim-text", lambda q: claiming.write(text=q["value"]))
        asking.on("claim-word", lambda q: claiming.write(word=q["value"]))
        asking.on("claim-base", self._based)
        asking.on("claim-add", self._added)
        self.layout = Column(
            *self.places, css_classes=["tk-claim"], stylesheets=[look.claim], sizing_mode="stretch_width",
            margin=(0, 0, 0, 0), name="claim-body",
        )  # fmt: skip

    def show(self, on: bool) -> None:
        """Unfold or fold."""
        self.shown = on
        self.update()

    def _based(self, q: dict[str, Any]) -> None:
        base = self.claiming.draft.base
        self.claiming.write(base=base | {q["column"]} if q["checked"] else base - {q["column"]})

    def _added(self, q: dict[str, Any]) -> None:
        if "text" in q and q["text"] != self.claiming.draft.text:  # typed, and the button pressed at once
            self.claiming.write(text=q["text"])
        self.claiming.add()

    def refuse(self, sentence: str) -> None:
        """Say why a question was refused; "" takes it away."""
        if sentence != self.refused:
            self.refused = sentence
            self.words.forget("claim-form")
            self.update()

    def update(self) -> None:
        """Show the claim, if the form is unfolded."""
        if not self.shown:
            return
        self.words.write("claim-form", self._form())
        self.words.write("claim-verdict", self._verdict())
        self.words.write("claim-sheet", self._sheet())

    def _form(self) -> str:
        claiming, store = self.claiming, self.claiming.store
        draft = claiming.draft
        columns = {c.name: c for c in store.columns}
        names = {v: name_of(store.match, v) for f in store.finding.filters for v in f.values}
        options = f'<option value=""{"" if draft.word else " selected"}>as the text says</option>'
        options += "".join(_option(w.word, f"{w.word}: {w.range_words()}", draft.word) for w in SHARE_WORDS.values())
        options += "".join(_option(word, word.replace("more", "more often"), draft.word) for word in MORE_IN)
        filters = "".join(
            f'<label><input type="checkbox" data-ask="claim-base" data-column="{_e(f.column)}" '
            f'data-key="claim-base-{_e(f.column)}"{" checked" if f.column in claiming.base else ""}> '
            f"{_e(f.words(columns[f.column], names))}</label>"
            for f in store.finding.filters
        )
        trouble = f'<p role="alert" class="alert">{_e(self.refused)}</p>' if self.refused else ""
        base = ""
        if len(store.finding.filters) > 1:
            base = (
                f'<fieldset><legend>Tick a filter that only limits what is counted</legend>{filters}</fieldset>'
            )  # fmt: skip
        return (
            '<form class="claim"><label class="wide">The claim, as you would publish it'
            f'<input type="text" name="text" data-ask="claim-text" data-key="claim-text" value="{_e(draft.text)}" '
            'placeholder="They usually …" autocomplete="off"></label>'
            '<label>How often<select data-ask="claim-word" data-key="claim-word" aria-label="how often">'
            f"{options}</select></label>{base}"
            '<div class="line"><button type="button" class="strong" data-ask="claim-add" data-key="claim-add">'
            f"Add to claim sheet</button></div>{trouble}</form>"
        )

    def _verdict(self) -> str:
        claiming = self.claiming
        try:
            checked = claiming.check()
        except TacticalKitError as error:
            return f'<p class="faint">{_e(str(error))}</p>'
        verdict = checked.verdict
        counted = f"Counted: {claiming.base_words()}."
        listed = ""
        result = checked.result
        if isinstance(result, Claim):
            shown = len(claiming.store.moments)
            if result.count != shown:
                listed = (
                    f" The list shows {shown}: it holds every moment that touches the chosen time and phase, "
                    "the sheet those that begin in it."
                )
        notes = "".join(f'<p class="faint">{_e(n)}</p>' for n in checked.notes)
        return (
            f'<p role="status"><b class="verdict">{_e(checked.short_verdict)}</b></p>'
            f"<p>{_e(checked.sentence)}</p>"
            f'<p class="faint">{_e(verdict.words) if verdict.words not in checked.sentence else ""}'
            f"{_e(counted)}{_e(listed)}</p>{notes}{self._against(checked)}"
        )

    def _against(self, checked: CheckedClaim) -> str:
        result = checked.result
        if not isinstance(result, Claim) or result.word is None:
            return ""
        ids = result.counterexamples.table["moment_id"].tolist()
        if not ids:
            return '<p class="faint">No counterexample.</p>'
        buttons = "".join(
            f'<button type="button" data-ask="moment" data-value="{_e(i)}" data-key="against-{_e(i)}">{_e(clock)}'
            "</button>"
            for i, clock in list(zip(ids, checked.counterexamples))[:_SHOWN]
        )
        more = f'<span class="faint">and {len(ids) - _SHOWN} more</span>' if len(ids) > _SHOWN else ""
        one = "1 counterexample" if len(ids) == 1 else f"{len(ids)} counterexamples"
        return f'<h3>{one}: choose one to play it</h3><div class="line against">{buttons}{more}</div>'

    def _sheet(self) -> str:
        claiming = self.claiming
        try:
            claims = claiming.listed()
            told = "It does not exist yet; the first claim begins it." if not claiming.path.exists() else (
                "1 claim stands in it." if len(claims) == 1 else f"{len(claims)} claims stand in it."
            )  # fmt: skip
            items = "".join(f"<li>{_e(c.text)} <i>{_e(c.finder)}</i></li>" for c in claims)
        except TacticalKitError as error:
            told, items = f"It cannot be read: {error}", ""
        added = f'<p role="status"><b>{_e(claiming.said)}</b></p>' if claiming.said else ""
        rows = (
            f'<details data-key="claims"><summary>What stands in it</summary><ol>{items}</ol></details>'
            if items
            else ""
        )
        return f'{added}<p class="faint">Claim sheet <code>{_e(str(claiming.path))}</code>. {_e(told)}</p>{rows}'


def _option(value: str, words: str, chosen: str) -> str:
    return f'<option value="{_e(value)}"{" selected" if value == chosen else ""}>{_e(words)}</option>'


def _e(text: str) -> str:
    return html.escape(str(text), quote=True)
