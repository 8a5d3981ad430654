"""The picker of finders and the list of their moments, as HTML in places of the page."""

from __future__ import annotations

import html
from typing import Any

import numpy as np
import pandas as pd
from bokeh.models import Column

from tactical_kit.explorer.asking import Asking
from tactical_kit.explorer.finding import offers
from tactical_kit.explorer.lists import moment_words
from tactical_kit.explorer.look import Look
from tactical_kit.explorer.number_filters import NUMBER, YES_NO, OwnColumn, choices_of, numbers_of
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.values import UNKNOWN, column_words, digits_of
from tactical_kit.explorer.words import Words
from tactical_kit.scenes import style

__all__ = ["FinderView", "side_mark"]

_SHOWN_COLUMNS = 9  # the style sheet shows as many as there is room for


class FinderView:
    """Which finder is asked, and its moments: a table with the finder's own columns, and one moment in full.

    Parameters
    ----------
    store : Store
        The state.
    look : Look
        Style sheets.
    words : Words
        The changing words of the page.
    asking : Asking
        The questions of the page.
    """

    def __init__(self, store: Store, look: Look, words: Words, asking: Asking) -> None:
        self.store, self.words = store, words
        self.offers = offers(store.match)
        look_of: dict[str, Any] = {"margin": (0, 0, 0, 0), "stylesheets": [look.form]}
        self.places = [words.place(name, **look_of) for name in ("finder-pick", "moment-head", "moment-table")]
        self.card = words.place("moment-card", **look_of)  # it stands below the moving pitch
        asking.listen_to(*self.places, self.card)
        asking.on("finder", lambda q: store.show_list(q["value"]))
        asking.on("moment", lambda q: store.choose_moment(q["value"]))
        asking.on("page", lambda q: store.turn_page(store.page + int(q["value"])))
        self.layout = Column(
            *self.places, css_classes=["tk-moments"], sizing_mode="stretch_width", margin=(0, 0, 0, 0), spacing=4
        )
        self.refused = ""
        self.update()

    def refuse(self, sentence: str) -> None:
        """Say beside the picker why a question was refused, "" nothing."""
        if sentence != self.refused:
            self.refused = sentence
            self.words.forget("finder-pick")  # a field that was refused shows again what holds
            self._write_head()

    def update(self) -> None:
        """Show finder and page of the list."""
        self._write_head()
        self.words.write("moment-head", self._count())
        self.words.write("moment-table", self._table())
        self.words.write("moment-card", self._card())

    # -- picker ---------------------------------------------------------------------------------------

    def _write_head(self) -> None:
        able = [o for o in self.offers if not o.why_not]
        lacking = [o for o in self.offers if o.why_not]
        now = self.store.finder
        options = "".join(
            f'<option value="{_e(o.name)}"{" selected" if o.name == now else ""}>{_e(o.name)}</option>' for o in able
        )
        if lacking:
            rest = "".join(f"<option disabled>{_e(o.name)}: {_e(o.why_not)}</option>" for o in lacking)
            options += f'<optgroup label="not in this match">{rest}</optgroup>'
        said = next(
            (o.finds for o in able if o.name == now), "No list: the match has neither events, tracking nor tags."
        )
        trouble = f'<p role="alert" class="alert">{_e(self.refused)}</p>' if self.refused else ""
        self.words.write(
            "finder-pick",
            f'<h2>Moments of a finder</h2><div class="line"><select data-ask="finder" data-key="finder" '
            f'aria-label="finder">{options}</select></div><p>{_e(said)}</p>'
            f'<p role="status" hidden data-busy="Searching the whole match …"></p>{trouble}'
            f"{self._all_offers(able, lacking)}",
        )

    def _all_offers(self, able: list[Any], lacking: list[Any]) -> str:
        if len(able) + len(lacking) < 2:
            return ""
        rows = "".join(
            f'<li><button type="button" class="plain" data-ask="finder" data-key="offer-{_e(o.name)}" '
            f'data-value="{_e(o.name)}">{_e(o.name)}</button> {_e(o.finds)}</li>'
            for o in able
        )
        rows += "".join(
            f'<li class="off"><b>{_e(o.name)}</b> {_e(o.finds)} <i>{_e(o.why_not)}.</i></li>' for o in lacking
        )
        without = f", {len(lacking)} of them not in this match" if lacking else ""
        return (
            f'<details data-key="all-finders"><summary>All {len(able) + len(lacking)} finders and what they find'
            f'{without}</summary><ul class="offers">{rows}</ul></details>'
        )

    # -- list -----------------------------------------------------------------------------------------

    def _count(self) -> str:
        store = self.store
        left, fit, total = len(store.moments), len(store.selected_moments), len(store.all_moments)
        if not store.lists:
            return ""
        if not total:
            return '<p class="faint">None found in this match, of either side. Other thresholds may find some.</p>'
        told = f"<b>{left}</b> of {total} moments"
        if store.finding.filters:
            told = f"<b>{left}</b> of the {fit} that fit the selection, of {total} in all"
        if not left:
            why = (
                "The filters on their numbers leave none: drop one."
                if fit
                else "None fits the selection of side, time and phase: widen it."
            )
        else:
            why = "Choose one to play it." if store.match.tracking is not None else ""
        few = ", few" if 0 < left < 10 else ""
        return f'<p class="faint" role="status">{told}{few}. {why}</p>'

    def _columns(self) -> list[OwnColumn]:
        """The columns that tell the listed moments apart, those that say the same of all left out."""
        table = self.store.moments.table
        if not len(table):
            return []
        shown = [c for c in self.store.columns if c.name != "time_s" and _tells(table[c.name], c)]
        return shown[:_SHOWN_COLUMNS]

    def _table(self) -> str:
        store, match = self.store, self.store.match
        rows, table = store.page_rows, store.moments.table
        if not len(rows):
            return ""
        both = store.selection.team is None or table["team"].nunique() > 1
        columns = self._columns()
        cells = [column_words(match, c, rows[c.name], _digits(table, c)) for c in columns]
        head = "<th>clock</th>" + ("<th>side</th>" if both else "") + '<th class="n">lasts</th>'
        for i, c in enumerate(columns):
            unit = f" <i>{_e(c.unit)}</i>" if c.unit else ""
            number = " n" if c.kind == NUMBER else ""
            head += f'<th class="c{i}{number}" title="{_e(c.words)}">{_e(c.label)}{unit}</th>'
        chosen = store.moment
        body = []
        labels = store.page_words
        for k, (_, row) in enumerate(rows.iterrows()):
            picked = chosen is not None and chosen["moment_id"] == row["moment_id"]
            identity = _e(str(row["moment_id"]))
            clock = match.clock.label(int(row["period"]), float(row["start_s"]))
            line = (
                f'<td><button type="button" data-key="row-{k}" aria-label="{_e(labels[k])}" '
                f'aria-pressed="{str(picked).lower()}">{clock}</button></td>'
            )
            if both:
                line += f"<td>{side_mark(match, str(row['team']))}</td>"
            line += f'<td class="n">{float(row["end_s"]) - float(row["start_s"]):.0f} <i>s</i></td>'
            for i, c in enumerate(columns):
                number = " n" if c.kind == NUMBER else ""
                line += f'<td class="c{i}{number}">{_e(cells[i][k])}</td>'
            body.append(f'<tr data-ask="moment" data-value="{identity}"{" class=picked" if picked else ""}>{line}</tr>')
        pager = ""
        if store.pages > 1:
            first, last = store.page == 0, store.page >= store.pages - 1
            pager = (
                f'<div class="line"><button type="button" data-ask="page" data-key="page-back" data-value="-1"'
                f'{" disabled" if first else ""}>earlier</button><button type="button" data-ask="page" '
                f'data-key="page-forth" data-value="1"{" disabled" if last else ""}>later</button>'
                f'<span class="faint">page {store.page + 1} of {store.pages}</span></div>'
            )
        return (
            f'<div class="scroll"><table class="rows" aria-label="moments"><thead><tr>{head}</tr></thead>'
            f"<tbody>{''.join(body)}</tbody></table></div>{pager}"
        )

    def _card(self) -> str:
        """Every number of the moment chosen."""
        row, match = self.store.moment, self.store.match
        if row is None:
            return ""
        facts = []
        names = [match.players[p].name for p in row["players"] if p in match.players]
        if names:
            facts.append(("players", ", ".join(names)))
        table = self.store.all_moments.table
        one = table[table["moment_id"] == row["moment_id"]]
        for c in self.store.columns:
            said = column_words(match, c, one[c.name], _digits(table, c), short=False)[0]
            if said != UNKNOWN:
                facts.append((c.words, f"{said} {c.unit}".strip()))
        told = "".join(f"<div><dt>{_e(name)}</dt><dd>{_e(value)}</dd></div>" for name, value in facts)
        listed = row["moment_id"] in set(self.store.moments.table["moment_id"])
        out = "" if listed else " <i>not in the list: the filters leave it out</i>"
        return (
            f'<details data-key="card" data-narrow open><summary><b>{_e(moment_words(match, row))}</b>{out}</summary>'
            f"<dl>{told}</dl></details>"
        )


def side_mark(match: Any, team: str) -> str:
    """Return the mark of a side with its short name, "" for neither."""
    if team not in [t.team_id for t in match.teams]:
        return ""
    side = match.team_index(team)
    shape = "50%" if style.TEAM_MARKER[side] == "circle" else "0"
    return (
        f'<span class="mark" style="background:{style.TEAM_FILL[side]};border-radius:{shape}"></span>'
        f"{_e(match.teams[side].short_name)}"
    )


def _digits(table: pd.DataFrame, column: OwnColumn) -> int:
    return digits_of(column, numbers_of(table[column.name])) if column.kind == NUMBER else 0


def _tells(values: pd.Series, column: OwnColumn) -> bool:
    """Whether a column says something of the listed moments, and a yes or no not the same of all."""
    if column.kind == NUMBER:
        return bool(np.isfinite(numbers_of(values)).any())
    said = set(choices_of(values))
    return len(said) > 1 or (said != {()} and column.kind != YES_NO)


def _e(text: str) -> str:
    return html.escape(text, quote=True)
