"""The state of an explorer without any widget: match, selection, moments, cursor, and the numbers they give.

Views read the store and change it through its methods; the store tells whoever listens what has changed.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import unquote

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.explorer.finding import Finding, read_thresholds, write_thresholds
from tactical_kit.explorer.found import Found
from tactical_kit.explorer.lists import list_names, moment_words
from tactical_kit.explorer.number_filters import ColumnFilter, Facet, OwnColumn
from tactical_kit.explorer.prepared import kept_for, prepare_match, timeline_to_segment
from tactical_kit.explorer.said import count_words, empty_words, gap_words
from tactical_kit.explorer.view_text import DEFAULT_LIST, View
from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.pass_network import pass_network
from tactical_kit.measures.pressure import pressure_map, whole_match_of
from tactical_kit.measures.progression import progression_zones
from tactical_kit.measures.selection import Selection, count_conditions
from tactical_kit.moments import Moments

__all__ = ["MEASURES", "Store", "prepare_match", "timeline_to_segment"]

Listener = Callable[[frozenset[str]], None]
MEASURES: dict[str, Callable[[MatchIndex, Selection], Any]] = {
    "network": pass_network,
    "progression": progression_zones,
    "pressure": pressure_map,
}
State = tuple[Selection, Finding]  # what a step of undo brings back
_CACHE_SIZE = 512
_MERGE_S = 1.0  # changes of the same condition in quick succession (a drag) are one step of undo


class Store:
    """What an explorer knows.

    Parameters
    ----------
    match : Match
        The match; any of its data may be missing.
    view : str, optional
        Short text of a state (`Store.view`).
    page_size : int, default 10
        Moments on a page of the list.

    Attributes
    ----------
    phases : Moments or None
        Phases of play, None if the data give none.
    index : MatchIndex
        The match prepared for questions.
    """

    def __init__(
        self, match: Match, view: str | None = None, page_size: int = 10, clock: Callable[[], float] = time.monotonic
    ) -> None:
        if not isinstance(match, Match):
            raise TacticalKitError(
                f"the explorer takes a match, got {match!r:.80}. Read one first: tk.explore(tk.read_match(path))."
            )
        self.match = match
        self.page_size = page_size
        prepared = kept_for(match)
        self.phases, self.index = prepared.phases, prepared.index
        self.lists = list_names(match)
        self._clock = clock
        self._listeners: list[Listener] = []
        self._cache = (
            prepared.answers
        )  # they depend on match and selection alone: every explorer of a match shares them
        self.found = Found(match, self.index, self.phases, self._cached)
        self._past: list[State] = []
        self._future: list[State] = []
        self._last: tuple[str, float] = ("", -1e9)
        self._selection = self.start_selection
        first = DEFAULT_LIST if DEFAULT_LIST in self.lists else (self.lists[0] if self.lists else DEFAULT_LIST)
        self._first_finder = first
        self._finding = Finding(first)
        self._moment = ""
        self._page = 0
        self._cursor: tuple[int, float] | None = None
        self._ghost = True
        if view is not None:
            self.apply_view(view)

    # -- listening ------------------------------------------------------------------------------------

    def listen(self, listener: Listener) -> Callable[[], None]:
        """Call `listener` with the names of what changed (selection, list, numbers, compare, claim, moment,
        page, cursor, ghost): `list` is another finder or other thresholds, `numbers` the filters on its columns.
        """
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener) if listener in self._listeners else None

    def tell(self, *changed: str) -> None:
        """Tell every listener what has changed."""
        for listener in tuple(self._listeners):
            listener(frozenset(changed))

    # -- selection ------------------------------------------------------------------------------------

    @property
    def start_selection(self) -> Selection:
        """What is selected before anybody chose: the home side, the whole match."""
        return Selection(team=self.match.home.team_id)

    @property
    def selection(self) -> Selection:
        """The filter."""
        return self._selection

    def select(self, selection: Selection, merge: str = "") -> None:
        """Replace the filter; one step of undo, together with the step before if both bear the same `merge`.

        Raises
        ------
        TacticalKitError
            The selection asks for what the match does not know or the data cannot tell.
        """
        selection = self._with_ids(selection)
        selection.check(self.match, self.index.phase_names)
        if selection == self._selection:
            return
        self._step(merge)
        self._set((selection, self._finding))

    def _step(self, merge: str) -> None:
        """Keep the present state for undo, unless it is the same drag as a moment ago."""
        now = self._clock()
        quick = merge != "" and self._last[0] == merge and now - self._last[1] < _MERGE_S
        if not quick:
            self._past.append((self._selection, self._finding))
        self._last = (merge, now)
        self._future.clear()

    def change(self, merge: str = "", **conditions: Any) -> None:
        """Change some conditions: `store.change(phases={"build-up"})`."""
        self.select(self._selection.replace(**conditions), merge)

    def toggle(self, condition: str, value: str) -> None:
        """Put a value into a set condition (players, zones, phases...), or take it out."""
        held: frozenset[str] = getattr(self._selection, condition)
        changed: dict[str, Any] = {condition: held - {value} if value in held else held | {value}}
        self.change(**changed)

    def undo(self) -> None:
        """Take back the last change of the filter, of the finder or of what is asked of its numbers."""
        if self._past:
            self._future.append((self._selection, self._finding))
            self._last = ("", -1e9)
            self._set(self._past.pop())

    def redo(self) -> None:
        """Do again what was taken back."""
        if self._future:
            self._past.append((self._selection, self._finding))
            self._set(self._future.pop())

    def reset(self) -> None:
        """Drop every condition but the side, and what is asked of the finder."""
        selection, finding = Selection(team=self._selection.team), self._finding.plain()
        if (selection, finding) != (self._selection, self._finding):
            self._step("")
            self._set((selection, finding))

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to do again."""
        return bool(self._future)

    def _set(self, state: State) -> None:
        before = (self._selection, self._finding)
        if self.lists:
            self.found.everything(state[1])  # may be refused: then nothing has changed
        self._selection, self._finding = state
        changed = {"selection"} if state[0] != before[0] else set()
        old, new = before[1], state[1]
        if (old.finder, old.thresholds) != (new.finder, new.thresholds):
            changed |= {"list", "moment"}
        if old.filters != new.filters:
            changed.add("numbers")
        if old.compare != new.compare:
            changed.add("compare")
        if changed - {"compare"}:
            self._page = 0
            if self._moment and self._moment not in set(self.moments.table["moment_id"]):
                self._moment = ""
        self.tell(*sorted(changed))

    def _with_ids(self, selection: Selection) -> Selection:
        # One side has one spelling, so that equal selections are equal and the cache is hit.
        changes: dict[str, Any] = {}
        if selection.team is not None:
            changes["team"] = self.match.team(selection.team).team_id
        if selection.players:
            changes["players"] = frozenset(self.match.player(p).player_id for p in selection.players)
        if selection.segment is not None:
            spans = tuple((p, max(a, 0.0), min(b, self.match.clock[p].duration_s)) for p, a, b in selection.segment)
            changes["segment"] = tuple(s for s in spans if s[2] > s[1])
            if not changes["segment"]:
                told = ", ".join(f"{a:g} to {b:g} s of period {p}" for p, a, b in selection.segment)
                raise TacticalKitError(f"the segment ({told}) lies outside the match; nothing of it was played.")
        return selection.replace(**changes) if changes else selection

    @property
    def timeline_span(self) -> tuple[float, float]:
        """First and last second on the time line of the selected segment."""
        if self._selection.segment is None:
            return 0.0, self.match.clock.total_s
        ends = [(float(self.match.clock.timeline(p, a)), float(self.match.clock.timeline(p, b)))
                for p, a, b in self._selection.segment]  # fmt: skip
        return min(a for a, _ in ends), max(b for _, b in ends)

    # -- numbers --------------------------------------------------------------------------------------

    def _cached(self, key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        try:
            self._cache.move_to_end(key)
            return self._cache[key]
        except KeyError:
            value = self._cache[key] = make()
        while len(self._cache) > _CACHE_SIZE:
            self._cache.popitem(last=False)
        return value

    def measure(self, name: str) -> Any:
        """Return the numbers of a chart ("network", "progression", "pressure") for the selection."""
        return self._measure(name, self._selection)

    def measure_whole(self, name: str) -> Any:
        """Return the numbers of the same side over the whole match, for the ghost; None if it is switched off
        or the selection is the whole match.
        """
        whole = whole_match_of(self._selection) if name == "pressure" else Selection(team=self._selection.team)
        if not self._ghost or whole == self._selection:
            return None
        return self._measure(name, whole)

    def _measure(self, name: str, selection: Selection) -> Any:
        check_choice("chart", name, MEASURES)
        return self._cached((name, selection), lambda: MEASURES[name](self.index, selection))

    @property
    def conditions(self) -> pd.DataFrame:
        """How many instances each condition leaves; see `count_conditions`."""
        return self._cached(("conditions", self._selection), lambda: count_conditions(self.index, self._selection))

    @property
    def n(self) -> int:
        """Actions on the ball that the selection holds."""
        return int(self.conditions["left"].iloc[-1])

    @property
    def seconds(self) -> float:
        """Seconds of the ball in play that the selection holds, from tracking; NaN without."""
        return float(self.conditions["seconds_left"].iloc[-1])

    @property
    def words(self) -> str:
        """The selection as a coach would say it."""
        return self._selection.words(self.match)

    @property
    def count_words(self) -> str:
        """How much the selection holds, few instances called few."""
        return count_words(self.index, self._selection, self.n, self.seconds)

    @property
    def empty(self) -> bool:
        """Whether the selection holds neither an action nor a second."""
        return self.n == 0 and not self.seconds > 0

    @property
    def empty_words(self) -> str:
        """Which condition emptied the selection, in words; "" if it is not empty."""
        if not self.empty:
            return ""
        return empty_words(self.index, self._selection, self.conditions)

    @property
    def gaps(self) -> list[str]:
        """What this match cannot show, each in a sentence."""
        return gap_words(self.match, self.phases)

    def phase_counts(self, with_ball: bool) -> tuple[dict[str, int], dict[str, int]]:
        """Return how many instances of each phase of the side, and of the other side, the rest of the selection
        touches; see `Found.phase_counts`.
        """
        return self.found.phase_counts(self._selection, with_ball)

    # -- moments --------------------------------------------------------------------------------------

    @property
    def finding(self) -> Finding:
        """Whose moments are listed, with which thresholds, and what is asked of their numbers."""
        return self._finding

    @property
    def finder(self) -> str:
        """Whose moments are listed."""
        return self._finding.finder

    def ask(self, finding: Finding, merge: str = "") -> None:
        """Ask another finder, or the same with other thresholds or filters; one step of undo.

        Raises
        ------
        TacticalKitError
            A finder that the match does not allow, thresholds that it refuses, filters that do not fit its columns.
            Nothing has changed then.
        """
        check_choice("list", finding.finder, self.lists)
        if finding == self._finding:
            return
        self.found.everything(finding)  # may be refused, too
        columns = self.found.columns(finding)
        for f in finding.filters:
            f.check(columns)
        self._step(merge)
        self._set((self._selection, finding))

    def show_list(self, finder: str) -> None:
        """List the moments of another finder, with its own thresholds and unfiltered."""
        if finder != self.finder:
            self.ask(Finding(finder))

    def filter_numbers(self, *filters: ColumnFilter, merge: str = "") -> None:
        """Ask something of columns of the finder; a filter that asks nothing drops the one of its column."""
        self.ask(self._finding.filtered(*filters), merge)

    @property
    def columns(self) -> list[OwnColumn]:
        """The own columns of the finder."""
        return self.found.columns(self._finding) if self.lists else []

    @property
    def facets(self) -> list[Facet]:
        """The own columns of the finder, each with what each answer would leave."""
        return self.found.facets(self._finding, self._selection) if self.lists else []

    @property
    def all_moments(self) -> Moments:
        """Every moment of the list, unfiltered."""
        if not self.lists:
            return Moments.build("none", [], match_id=self.match.match_id)
        return self.found.everything(self._finding)

    @property
    def selected_moments(self) -> Moments:
        """The moments of the list that fit the selection, whatever their numbers."""
        return self.found.selected(self._finding, self._selection) if self.lists else self.all_moments

    @property
    def moments(self) -> Moments:
        """The moments of the list that fit the selection and the filters on their numbers."""
        return self.found.shown(self._finding, self._selection) if self.lists else self.all_moments

    @property
    def pages(self) -> int:
        """Pages of the list, at least one."""
        return max(1, -(-len(self.moments) // self.page_size))

    @property
    def page(self) -> int:
        """Page that is shown, from 0."""
        return self._page

    def turn_page(self, page: int) -> None:
        """Show another page of the list; pages out of range are clipped."""
        page = int(np.clip(page, 0, self.pages - 1))
        if page != self._page:
            self._page = page
            self.tell("page")

    @property
    def page_rows(self) -> pd.DataFrame:
        """The moments on the page."""
        first = self._page * self.page_size
        return self.moments.table.iloc[first : first + self.page_size]

    @property
    def page_words(self) -> list[str]:
        """One line of words for each moment on the page."""
        rows = self.page_rows
        # The side is said only where it is not the same for all.
        side = self._selection.team is None or self.moments.table["team"].nunique() > 1
        return [moment_words(self.match, row, side) for _, row in rows.iterrows()]

    @property
    def moment(self) -> pd.Series | None:
        """The moment chosen, or None; it may be one that the filters leave out, as a counterexample."""
        if not self._moment:
            return None
        table = self.all_moments.table
        found = table[table["moment_id"] == self._moment]
        return found.iloc[0] if len(found) else None

    def choose_moment(self, moment_id: str) -> None:
        """Choose a moment of the finder by id ("" none): the cursor moves to its start, the list to its page."""
        if moment_id:
            self._page = self._page_of(moment_id, self.moments, self.all_moments, self._page)
        self._moment = moment_id
        row = self.moment
        if row is not None:
            self._cursor = (int(row["period"]), float(row["start_s"]))
        self.tell("moment", "page")

    def _page_of(self, moment_id: str, listed: Moments, every: Moments, page: int) -> int:
        """Return the page of a moment, `page` for one that is not listed."""
        known = listed.table["moment_id"].tolist()
        if moment_id in known:
            return known.index(moment_id) // self.page_size
        if moment_id not in set(every.table["moment_id"]):
            check_choice_short("moment", moment_id, known)
        return page

    # -- cursor, ghost, view --------------------------------------------------------------------------

    @property
    def cursor(self) -> tuple[int, float]:
        """Instant that the moving pitch shows: period and seconds."""
        return self._cursor if self._cursor is not None else (self.match.periods[0].number, 0.0)

    def note_cursor(self, period: int, time_s: float) -> None:
        """Take note of where the moving pitch has come to."""
        self._cursor = (int(period), float(time_s))

    def move_cursor(self, period: int, time_s: float) -> None:
        """Move the moving pitch to an instant."""
        duration = self.match.clock[period].duration_s
        self._cursor = (int(period), float(np.clip(time_s, 0, duration)))
        self.tell("cursor")

    @property
    def ghost(self) -> bool:
        """Whether the whole match stands behind the filtered values."""
        return self._ghost

    def show_ghost(self, on: bool) -> None:
        """Switch the comparison with the whole match on or off."""
        if bool(on) != self._ghost:
            self._ghost = bool(on)
            self.tell("ghost")

    @property
    def view(self) -> str:
        """The state as a short text; `explore(match, view=...)` and `apply_view` take it."""
        asked = self._finding
        thresholds = write_thresholds(asked.finder, asked.thresholds)
        return View(
            self._selection, asked.finder, self._moment, self._cursor, self._ghost, thresholds, asked.filters,
            asked.compare,
        ).to_text()  # fmt: skip

    def apply_view(self, text: str) -> None:
        """Take on a state from its short text.

        Raises
        ------
        TacticalKitError
            The text cannot be read, or it names what this match does not have.  The state stays as it was.
        """
        view = View.from_text(text)
        selection = self._with_ids(view.selection)
        selection.check(self.match, self.index.phase_names)
        # A text that names no list means the first one there is.
        finder = self._first_finder if view.finder == DEFAULT_LIST else check_choice("list", view.finder, self.lists)
        if view.at is not None:
            self.match.clock[view.at[0]]
        asked = Finding(finder, filters=view.filters, compare=view.compare)
        if view.thresholds:
            asked = replace(asked, thresholds=read_thresholds(finder, view.thresholds))
        if asked.filters or asked.compare:
            columns = self.found.columns(asked)
            for f in asked.filters:
                f.check(columns)
            if asked.compare:
                check_choice("compare", unquote(asked.compare.partition(":")[0]), [c.name for c in columns])
        moments = self.found.shown(asked, selection) if finder in self.lists else self.all_moments
        page = 0
        if view.moment:
            every = self.found.everything(asked) if finder in self.lists else moments
            page = self._page_of(view.moment, moments, every, 0)
        if (selection, asked) != (self._selection, self._finding):
            self._step("")
        self._selection, self._finding, self._moment, self._page = selection, asked, view.moment, page
        self._cursor, self._ghost = view.at, view.ghost
        self.tell("selection", "list", "numbers", "compare", "moment", "page", "cursor", "ghost")


def check_choice_short(name: str, value: str, known: list[str]) -> str:
    """Return `value` if it is one of many known ids; the error names a few, not hundreds."""
    if value in known:
        return value
    if not known:
        raise TacticalKitError(f"{name} is {value!r}; the list is empty under this selection.")
    from tactical_kit.errors import UnknownNameError, suggest

    raise UnknownNameError(
        f"{name} is {value!r}; expected one of the {len(known)} listed, from {known[0]!r} to {known[-1]!r}."
        f"{suggest(value, known)}"
    )
