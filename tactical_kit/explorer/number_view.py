"""The filters on a finder's own numbers and its thresholds, as HTML fields in places of the page."""

from __future__ import annotations

import html
import math
from typing import Any

from bokeh.models import Column

from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.asking import Asking, Question
from tactical_kit.explorer.finding import Threshold, thresholds_of
from tactical_kit.explorer.look import Look
from tactical_kit.explorer.number_filters import NUMBER, ColumnFilter, Facet
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.values import name_of
from tactical_kit.explorer.words import Words

__all__ = ["NumberView"]

_OPEN_CHOICES = 5  # the others are folded away
_OPEN_FIELDS = 8
_WIDE, _HIGH = 200, 30


class NumberView:
    """What may be asked of the finder's columns, with what each answer leaves; its thresholds below.

    Parameters
    ----------
    store, look, words, asking
        As in `FinderView`.
    """

    def __init__(self, store: Store, look: Look, words: Words, asking: Asking) -> None:
        self.store, self.words = store, words
        look_of: dict[str, Any] = {"margin": (0, 0, 0, 0), "stylesheets": [look.form]}
        self.places = [words.place(name, **look_of) for name in ("numbers", "thresholds")]
        asking.listen_to(*self.places)
        self.asks = {
            "limit": self._limit, "brush": self._brush, "choice": self._choice, "unknown": self._unknown,
            "drop": self._drop, "threshold": self._threshold,
        }  # fmt: skip
        for ask, act in self.asks.items():
            asking.on(ask, act)
        self.refused = ""
        self.layout = Column(
            *self.places, css_classes=["tk-numbers"], sizing_mode="stretch_width", margin=(0, 0, 0, 0), spacing=6
        )
        self.update()

    # -- page to store --------------------------------------------------------------------------------

    def _now(self, column: str) -> ColumnFilter:
        return self.store.finding.filter_of(column) or ColumnFilter(column)

    def _limit(self, q: Question) -> None:
        now, text = self._now(q["column"]), str(q["value"]).strip().replace(",", ".")
        try:
            limit = float(text) if text else None
        except ValueError:
            raise TacticalKitError(f"a limit of {q['column']} is {text!r}; expected a number, or nothing.") from None
        low, high = (limit, now.high) if q["end"] == "low" else (now.low, limit)
        known = now.is_range  # a box that was not shown does not count
        self.store.filter_numbers(ColumnFilter(now.column, low, high, unknown=now.unknown and known))

    def _brush(self, q: Question) -> None:
        facet = next((f for f in self.store.facets if f.column.name == q["column"]), None)
        if facet is None or not math.isfinite(facet.low):
            return
        now = self._now(q["column"])
        a, b = (min(max(float(q[end]), 0.0), 1.0) for end in "ab")
        low, high = (None if share in (0.0, 1.0) else _at(facet, share) for share in (a, b))
        if low is not None and high is not None and low > high:
            low, high = high, low
        self.store.filter_numbers(
            ColumnFilter(now.column, low, high, unknown=now.unknown and (low is not None or high is not None)),
            merge=f"numbers {now.column}",
        )

    def _choice(self, q: Question) -> None:
        now = self._now(q["column"])
        values = now.values | {q["value"]} if q["checked"] else now.values - {q["value"]}
        self.store.filter_numbers(ColumnFilter(now.column, values=values, unknown=now.unknown))

    def _unknown(self, q: Question) -> None:
        now = self._now(q["column"])
        self.store.filter_numbers(ColumnFilter(now.column, now.low, now.high, now.values, bool(q["checked"])))

    def _drop(self, q: Question) -> None:
        names = [q["column"]] if q.get("column") else [f.column for f in self.store.finding.filters]
        self.store.filter_numbers(*(ColumnFilter(name) for name in names))

    def _threshold(self, q: Question) -> None:
        finding = self.store.finding
        if not q.get("name"):
            for threshold in thresholds_of(finding.finder):
                finding = finding.with_threshold(threshold.name, threshold.default)
        else:
            threshold = next(t for t in thresholds_of(finding.finder) if t.name == q["name"])
            typed = ("yes" if q["checked"] else "no") if isinstance(threshold.default, bool) else str(q["value"])
            finding = finding.with_threshold(threshold.name, threshold.read(typed))
        self.store.ask(finding)

    # -- store to page --------------------------------------------------------------------------------

    def refuse(self, sentence: str) -> None:
        """Say why a question was refused, and let every field show again what holds; "" takes it away."""
        if sentence or self.refused:
            self.refused = sentence
            self.words.forget("numbers")
            self.words.forget("thresholds")
            self.update()

    def update(self) -> None:
        """Show what is asked, and what each answer would leave."""
        self.words.write("numbers", self._numbers())
        self.words.write("thresholds", self._thresholds())

    def _numbers(self) -> str:
        facets, filters = self.store.facets, self.store.finding.filters
        if not facets or not len(self.store.all_moments):
            return ""
        columns = {f.column.name: f.column for f in facets}
        names = {v: name_of(self.store.match, v) for f in facets for v, _ in f.choices}
        drops = ""
        for f in filters:
            said = _e(f.words(columns[f.column], names))
            drops += (
                f'<button type="button" data-ask="drop" data-key="drop-{_e(f.column)}" data-column="{_e(f.column)}" '
                f'aria-label="drop: {said}">{said} ×</button>'
            )
        if len(filters) > 1:
            drops += '<button type="button" data-ask="drop" data-key="drop-all">drop all</button>'
        asked = [f for f in facets if f.tells]
        # The first ones, and whatever is asked already, stay in sight.
        first = [f for i, f in enumerate(asked) if i < _OPEN_FIELDS or f.filter is not None]
        rest = [f for f in asked if f not in first]
        fields = "".join(self._field(f, names) for f in first)
        more = "".join(self._field(f, names) for f in rest)
        if more:
            many = "1 more column" if len(rest) == 1 else f"{len(rest)} more columns"
            more = (
                f'<details data-key="more-numbers"><summary>{many} of this finder</summary>'
                f'<div class="fields">{more}</div></details>'
            )
        held = f'<div class="line drops" role="group" aria-label="filters that hold">{drops}</div>' if drops else ""
        return (
            f'{held}<details data-key="numbers" data-narrow open><summary><h2>Filter “{_e(self.store.finder)}” by its '
            f'own numbers</h2></summary><div class="fields">{fields}</div>{more}</details>'
        )

    def _field(self, facet: Facet, names: dict[str, str]) -> str:
        return self._number(facet) if facet.column.kind == NUMBER else self._words(facet, names)

    def _number(self, facet: Facet) -> str:
        column, asked = facet.column, facet.filter
        head = _legend(facet)
        if not math.isfinite(facet.low):
            return f'<fieldset>{head}<p class="faint">unknown in all {facet.unknown}</p></fieldset>'
        step = 1.0 if column.whole else 10.0 ** math.floor(math.log10(max(facet.high - facet.low, 1e-6) / 50))
        ends = []
        for end, value, edge, word in (
            ("low", asked.low if asked else None, facet.low, "at least"),
            ("high", asked.high if asked else None, facet.high, "at most"),
        ):
            shown = "" if value is None else f"{value:g}"
            ends.append(
                f'<input type="text" inputmode="decimal" size="5" data-ask="limit" data-end="{end}" '
                f'data-key="{end}-{_e(column.name)}" data-column="{_e(column.name)}" value="{shown}" '
                f'placeholder="{_round(edge, step, down=end == "low"):g}" aria-label="{_e(column.words)}, {word}">'
            )
        unit = f" <i>{_e(column.unit)}</i>" if column.unit else ""
        unknown = ""
        if facet.unknown:
            # Without limits what is unknown is kept anyhow.
            ranged = asked is not None and asked.is_range
            on = not ranged or (asked is not None and asked.unknown)
            unknown = self._box("unknown", column.name, "", "unknown, too", facet.unknown, on, off=not ranged)
        return (
            f'<fieldset>{head}{_histogram(facet)}<div class="ends">{ends[0]}<span>to</span>{ends[1]}{unit}</div>'
            f"{unknown}</fieldset>"
        )

    def _words(self, facet: Facet, names: dict[str, str]) -> str:
        column, asked = facet.column, facet.filter or ColumnFilter(facet.column.name)
        boxes = [
            self._box("choice", column.name, value, names[value], left, value in asked.values)
            for value, left in facet.choices
        ]
        # What is ticked stays in sight.
        boxes = [b for b in boxes if " checked" in b] + [b for b in boxes if " checked" not in b]
        ticked = sum(" checked" in b for b in boxes)
        cut = max(_OPEN_CHOICES, ticked)
        body = "".join(boxes[:cut])
        if facet.unknown or asked.unknown:
            body += self._box("unknown", column.name, "", "unknown", facet.unknown, asked.unknown)
        if boxes[cut:]:
            body += (
                f'<details data-key="more-{_e(column.name)}"><summary>{len(boxes) - cut} more</summary>'
                f"{''.join(boxes[cut:])}</details>"
            )
        return f"<fieldset>{_legend(facet)}{body}</fieldset>"

    @staticmethod
    def _box(ask: str, column: str, value: str, label: str, count: int, on: bool, off: bool = False) -> str:
        none = ' class="none"' if not count and not on else ""
        return (
            f'<label{none}><input type="checkbox" data-ask="{ask}" data-column="{_e(column)}" data-value="{_e(value)}" '
            f'data-key="{ask}-{_e(column)}-{_e(value)}"{" checked" if on else ""}{" disabled" if off else ""}> '
            f'{_e(label)} <span class="count">{count}</span></label>'
        )

    def _thresholds(self) -> str:
        finding = self.store.finding
        thresholds = thresholds_of(finding.finder)
        trouble = f'<p role="alert" class="alert">{_e(self.refused)}</p>' if self.refused else ""
        if not thresholds:
            return trouble
        changed = dict(finding.thresholds)
        rows = "".join(self._threshold_row(t, changed) for t in thresholds)
        told = f"{len(changed)} changed" if changed else "all at their defaults"
        reset = (
            '<button type="button" data-ask="threshold" data-key="threshold-reset">Reset to the defaults</button>'
            if changed else ""
        )  # fmt: skip
        return (
            f'{trouble}<details data-key="thresholds"><summary>Thresholds of “{_e(finding.finder)}”: {told}</summary>'
            f'<div class="thresholds">{rows}</div>{reset}</details>'
        )

    @staticmethod
    def _threshold_row(threshold: Threshold, changed: dict[str, Any]) -> str:
        value = changed.get(threshold.name, threshold.default)
        text = threshold.write(value)
        common = (
            f'data-ask="threshold" data-name="{_e(threshold.name)}" data-key="threshold-{_e(threshold.name)}" '
            f'aria-label="{_e(threshold.label)}"'
        )
        if isinstance(threshold.default, bool):
            field = f'<input type="checkbox" {common}{" checked" if value else ""}>'
        elif threshold.can_change:
            field = f'<input type="text" size="6" {common} value="{_e(text)}">'
        else:  # several words: Python alone can say others
            field = _e(", ".join(map(str, value)) if isinstance(value, (tuple, list, frozenset)) else text)
        default = f" (default {_e(threshold.write(threshold.default))})" if threshold.name in changed else ""
        return (
            f"<div><label>{_e(threshold.label)}</label><span>{field} <i>{_e(threshold.unit)}</i>{default}</span>"
            f'<p class="faint">{_e(threshold.words)}</p></div>'
        )


def _legend(facet: Facet) -> str:
    unit = f" <i>{_e(facet.column.unit)}</i>" if facet.column.unit else ""
    return f"<legend>{_e(facet.column.words)}{unit}</legend>"


def _histogram(facet: Facet) -> str:
    """Bars of what each step would leave; a drag asks for a range."""
    most = max(facet.counts, default=0) or 1
    n = len(facet.counts)
    wide = _WIDE / n
    bars = "".join(
        f'<rect x="{i * wide + 0.5:.1f}" y="{_HIGH - (tall := max(1.5, _HIGH * count / most)):.1f}" '
        f'width="{wide - 1:.1f}" height="{tall:.1f}"/>'
        for i, count in enumerate(facet.counts) if count
    )  # fmt: skip
    veil = ""
    if facet.filter is not None:
        low, high = (_share(facet, limit) for limit in (facet.filter.low, facet.filter.high))
        left = 0.0 if low is None else low * _WIDE
        right = float(_WIDE) if high is None else high * _WIDE
        veil = "".join(
            f'<rect class="veil" x="{x:.1f}" y="0" width="{max(0.0, w):.1f}" height="{_HIGH}"/>'
            for x, w in ((0.0, left), (right, _WIDE - right))
        ) + "".join(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="0" y2="{_HIGH}"/>'
            for x, limit in ((left, low), (right, high)) if limit is not None
        )  # fmt: skip
    return (
        f'<svg class="bars" data-brush="{_e(facet.column.name)}" viewBox="0 0 {_WIDE} {_HIGH}" aria-hidden="true" '
        f'preserveAspectRatio="none"><title>drag for a range, click to drop it</title>{bars}{veil}</svg>'
    )


def _span(facet: Facet) -> tuple[float, float]:
    # The steps of whole numbers reach half a number beyond.
    return (facet.low - 0.5, facet.high + 0.5) if facet.column.whole else (facet.low, max(facet.high, facet.low + 1e-9))


def _share(facet: Facet, limit: float | None) -> float | None:
    if limit is None:
        return None
    low, high = _span(facet)
    return min(1.0, max(0.0, (limit - low) / (high - low)))


def _at(facet: Facet, share: float) -> float:
    """Return the number at a share of the width, rounded to a step that the width can show."""
    low, high = _span(facet)
    step = 1.0 if facet.column.whole else 10.0 ** math.floor(math.log10(max(high - low, 1e-6) / 50))
    return round(round((low + share * (high - low)) / step) * step, 6)


def _round(value: float, step: float, down: bool) -> float:
    return round((math.floor if down else math.ceil)(round(value / step, 6)) * step, 6)


def _e(text: str) -> str:
    return html.escape(str(text), quote=True)
