"""Half against half on the page: two small pitches, two distributions on one scale, and the difference in words."""

from __future__ import annotations

import html
from dataclasses import replace
from typing import Any

from bokeh.models import Column

from tactical_kit.explorer.asking import Asking
from tactical_kit.explorer.halves import Halves, compare_halves_of, compared_by, write_compare
from tactical_kit.explorer.look import Look
from tactical_kit.explorer.number_filters import NUMBER, numbers_of
from tactical_kit.explorer.places import LAYERS, places_scene
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.values import name_of
from tactical_kit.explorer.words import Words
from tactical_kit.scenes.canvas import Canvas

__all__ = ["HalvesView"]

_NAMES = ("first half", "second half")
_WORDS = 8  # words of a column that are shown
_WIDE, _HIGH = 240, 46


class HalvesView:
    """The comparison of the halves; it is worked out only while it is unfolded.

    Parameters
    ----------
    store, look, words, asking
        As in `FinderView`.
    """

    def __init__(self, store: Store, look: Look, words: Words, asking: Asking) -> None:
        self.store, self.words = store, words
        self.shown = False
        look_of: dict[str, Any] = {"margin": (0, 0, 0, 0), "stylesheets": [look.form]}
        self.canvases = [
            Canvas(store.match.pitch, name=f"half-{i}", width_px=300, header=False, layers=LAYERS) for i in (1, 2)
        ]
        for canvas in self.canvases:
            canvas.on_pick(lambda kind, key: store.choose_moment(key))
        self.heads = [words.place(f"half-{i}-head", **look_of) for i in (1, 2)]
        self.place = words.place("halves", css_classes=["tk-told"], **look_of)
        asking.listen_to(self.place)
        asking.on("compare", self._chosen)
        pitches = [
            Column(head, canvas.figure, sizing_mode="stretch_width", margin=(0, 0, 0, 0))
            for head, canvas in zip(self.heads, self.canvases)
        ]
        self.layout = Column(
            *pitches, self.place, css_classes=["tk-halves"], stylesheets=[look.halves], sizing_mode="stretch_width",
            margin=(0, 0, 0, 0), name="halves-body",
        )  # fmt: skip

    def show(self, on: bool) -> None:
        """Unfold or fold."""
        self.shown = on
        self.update()

    def _chosen(self, q: dict[str, Any]) -> None:
        text = write_compare(q["column"], q["value"]) if q.get("column") else write_compare(q["value"])
        self.store.ask(replace(self.store.finding, compare=text))

    def update(self) -> None:
        """Show the comparison, if it is unfolded."""
        if not self.shown:
            return
        halves = compare_halves_of(self.store)
        chosen = self.store.moment
        picked = "" if chosen is None else str(chosen["moment_id"])
        for i, (part, canvas) in enumerate(zip((halves.first, halves.second), self.canvases)):
            canvas.show(places_scene(self.store.match, part.table, picked, _NAMES[i]))
            self.words.write(f"half-{i + 1}-head", self._head(halves, i))
        self.words.write("halves", self._told(halves))

    def _head(self, halves: Halves, i: int) -> str:
        part = (halves.first, halves.second)[i]
        facts = f"{len(part)} moment{'' if len(part) == 1 else 's'}"
        if halves.rate is not None and halves.rate.seconds[i] > 0:
            group = (halves.rate.first, halves.rate.second)[i]
            facts += (
                f", {group.value:.1f} in 30 min {halves.rate.time} ({halves.rate.seconds[i] / 60:.0f} min were played)"
            )
        return f'<h3>{_NAMES[i].capitalize()}</h3><p class="faint">{html.escape(facts)}</p>'

    def _told(self, halves: Halves) -> str:
        if not len(self.store.moments):
            return '<p class="faint">No moment is left, so there is nothing to compare.</p>'
        said = []
        if halves.rate is not None:
            said += ["<h3>How often</h3>", f"<p>{_e(halves.rate.sentence)}</p>"]
            said += [f'<p class="faint">{_e(note)}</p>' for note in halves.rate.notes]
        else:
            said.append(f'<p class="faint">{_e(halves.no_rate)}</p>')
        said.append(f'<div class="line"><h3>By</h3>{self._choosers(halves)}</div>')
        if halves.column is not None:
            said.append(self._steps(halves) if halves.column.kind == NUMBER else self._shares(halves))
        if halves.compared is not None:
            said.append(f"<p>{_e(halves.compared.sentence)}</p>")
            said += [f'<p class="faint">{_e(note)}</p>' for note in halves.compared.notes]
        return "".join(said)

    def _choosers(self, halves: Halves) -> str:
        column, word = compared_by(self.store)
        if column is None:
            return '<span class="faint">This finder has no numbers of its own.</span>'
        options = "".join(
            f'<option value="{_e(f.column.name)}"{" selected" if f.column.name == column.name else ""}>'
            f"{_e(f.column.words)}</option>"
            for f in self.store.facets if f.tells or f.column.name == column.name
        )  # fmt: skip
        made = (
            f'<select data-ask="compare" data-key="compare-column" aria-label="compare the halves by">{options}'
            "</select>"
        )
        if column.kind != NUMBER:
            words = halves.words or (word,)
            options = "".join(
                f'<option value="{_e(w)}"{" selected" if w == word else ""}>{_e(name_of(self.store.match, w))}</option>'
                for w in words
            )
            made += (
                f'<select data-ask="compare" data-key="compare-word" data-column="{_e(column.name)}" '
                f'aria-label="share of">{options}</select>'
            )
        return made

    def _steps(self, halves: Halves) -> str:
        """Two distributions on one scale, with the mean of each."""
        assert halves.column is not None
        most = max((share for half in halves.shares for _, share in half if share == share), default=0.0) or 1.0
        unit = f" {halves.column.unit}" if halves.column.unit else ""
        rows = []
        for name, part, shares in zip(_NAMES, (halves.first, halves.second), halves.shares):
            if not shares:
                continue
            numbers = numbers_of(part.table[halves.column.name])
            known = numbers[numbers == numbers]
            low, high = halves.edges[0], halves.edges[-1]
            wide = _WIDE / len(shares)
            bars = "".join(
                f'<rect x="{k * wide + 0.5:.1f}" y="{_HIGH - _HIGH * share / most:.1f}" width="{wide - 1:.1f}" '
                f'height="{_HIGH * share / most:.1f}"/>'
                for k, (count, share) in enumerate(shares) if count
            )  # fmt: skip
            mean = ""
            said = "all unknown"
            if len(known):
                x = (float(known.mean()) - low) / (high - low) * _WIDE
                mean = f'<line x1="{x:.1f}" x2="{x:.1f}" y1="0" y2="{_HIGH}"/>'
                said = f"mean {known.mean():.3g}{unit} of {len(known)}"
            rows.append(
                f'<div><span class="faint">{name}: {_e(said)}</span><svg class="bars tall" '
                f'viewBox="0 0 {_WIDE} {_HIGH}" preserveAspectRatio="none" role="img" '
                f'aria-label="{name}: {_e(said)}">{bars}{mean}</svg></div>'
            )
        if not rows:
            return '<p class="faint">Unknown in every moment.</p>'
        first, last = (f"{edge:.3g}{unit}" for edge in (halves.edges[0], halves.edges[-1]))
        ends = f'<div class="scale"><span>{first}</span><span>{last}</span></div>'
        return f'<div class="strips">{"".join(rows)}</div>{ends}'

    def _shares(self, halves: Halves) -> str:
        """Each word with its share in either half, on one scale."""
        rows = []
        for k, word in enumerate(halves.words[:_WORDS]):
            cells = ""
            for half in halves.shares:
                count, share = half[k]
                width = 0.0 if share != share else 100 * share
                told = "–" if share != share else f"{width:.0f} %"
                cells += (
                    f'<td class="bar"><span style="width:{width:.1f}%"></span></td>'
                    f'<td class="n">{told} <i>{count}</i></td>'
                )
            picked = ' class="picked"' if word == halves.word else ""
            rows.append(f"<tr{picked}><td>{_e(name_of(self.store.match, word))}</td>{cells}</tr>")
        rest = len(halves.words) - _WORDS
        more = f'<p class="faint">and {rest} more, less frequent</p>' if rest > 0 else ""
        head = "".join(f'<th colspan="2">{name}</th>' for name in _NAMES)
        return f'<table class="shares"><tr><th></th>{head}</tr>{"".join(rows)}</table>{more}'


def _e(text: str) -> str:
    return html.escape(str(text), quote=True)
