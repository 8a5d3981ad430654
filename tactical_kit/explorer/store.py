"""The state of an explorer without any widget: match, selection, moments, cursor, and the numbers they give.

Views read the store and change it through its methods; the store tells whoever listens what has changed.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import MissingDataError, TacticalKitError, check_choice
from tactical_kit.explorer.lists import TAG, list_names, moment_words, tag_moments
from tactical_kit.explorer.touching import held, in_time, masks_of, phase_rows, spans_of
from tactical_kit.explorer.view_text import DEFAULT_LIST, View
from tactical_kit.finders import find
from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex, index_match
from tactical_kit.measures.pass_network import pass_network
from tactical_kit.measures.pressure import pressure_map, whole_match_of
from tactical_kit.measures.progression import progression_zones
from tactical_kit.measures.selection import Selection, count_conditions, describe_gaps
from tactical_kit.moments import Moments
from tactical_kit.phases import IN_PHASES, OUT_PHASES, find_phases

__all__ = ["MEASURES", "Store", "prepare_match", "timeline_to_segment"]

Listener = Callable[[frozenset[str]], None]
MEASURES: dict[str, Callable[[MatchIndex, Selection], Any]] = {
    "network": pass_network,
    "progression": progression_zones,
    "pressure": pressure_map,
}
_CACHE_SIZE = 256
_MERGE_S = 1.0  # changes of the same condition in quick succession (a drag) are one step of undo


class Prepared:
    """What is computed once for a match and lives as long as it: phases, index, and the answers given so far."""

    def __init__(self, match: Match) -> None:
        try:
            self.phases: Moments | None = find_phases(match)
        except MissingDataError:
            self.phases = None
        self.index = index_match(match, self.phases)
        self.answers: OrderedDict[tuple[Any, ...], Any] = OrderedDict()


def _prepared(match: Match) -> Prepared:
    # Kept by the match itself: a table beside it could not let go of it, as the index holds the match.
    kept: Prepared | None = match.__dict__.get("_explored")
    if kept is None:
        kept = match.__dict__["_explored"] = Prepared(match)
    return kept


def prepare_match(match: Match) -> tuple[Moments | None, MatchIndex]:
    """Return phases and index of a match, computed on the first call and kept while the match lives."""
    kept = _prepared(match)
    return kept.phases, kept.index


def timeline_to_segment(match: Match, start: float, end: float) -> tuple[tuple[int, float, float], ...] | None:
    """Return the spans (period, start_s, end_s) of a stretch of the time line; None if it is the whole match.

    Limits are rounded to the second; a stretch of less than a second is widened to one.
    """
    start, end = sorted((float(start), float(end)))
    total = match.clock.total_s
    start, end = min(max(0.0, round(start)), total - 1), min(round(end), total)
    end = max(end, start + 1)
    if start <= 0 and end >= total - 1:
        return None
    spans = []
    for period in match.periods:
        offset = float(match.clock.timeline(period.number, 0.0))
        a, b = (round(float(np.clip(t - offset, 0.0, period.duration_s)), 6) for t in (start, end))
        # What reaches the last second of a period reaches its end.
        b = period.duration_s if b > period.duration_s - 1 else b
        if b - a >= 1:
            spans.append((period.number, float(a), float(b)))
    return tuple(spans) or None


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
        prepared = _prepared(match)
        self.phases, self.index = prepared.phases, prepared.index
        self.lists = list_names(match)
        self._clock = clock
        self._listeners: list[Listener] = []
        self._cache = (
            prepared.answers
        )  # they depend on match and selection alone: every explorer of a match shares them
        self._past: list[Selection] = []
        self._future: list[Selection] = []
        self._last: tuple[str, float] = ("", -1e9)
        self._selection = self.start_selection
        self._finder = DEFAULT_LIST if DEFAULT_LIST in self.lists else (self.lists[0] if self.lists else DEFAULT_LIST)
        self._first_finder = self._finder
        self._moment = ""
        self._page = 0
        self._cursor: tuple[int, float] | None = None
        self._ghost = True
        if view is not None:
            self.apply_view(view)

    # -- listening ------------------------------------------------------------------------------------

    def listen(self, listener: Listener) -> Callable[[], None]:
        """Call `listener` with the names of what changed (selection, list, moment, page, cursor, ghost)."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener) if listener in self._listeners else None

    def _tell(self, *changed: str) -> None:
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
        now = self._clock()
        quick = merge != "" and self._last[0] == merge and now - self._last[1] < _MERGE_S
        if not quick:
            self._past.append(self._selection)
        self._last = (merge, now)
        self._future.clear()
        self._set_selection(selection)

    def change(self, merge: str = "", **conditions: Any) -> None:
        """Change some conditions: `store.change(phases={"build-up"})`."""
        self.select(self._selection.replace(**conditions), merge)

    def toggle(self, condition: str, value: str) -> None:
        """Put a value into a set condition (players, zones, phases...), or take it out."""
        held: frozenset[str] = getattr(self._selection, condition)
        changed: dict[str, Any] = {condition: held - {value} if value in held else held | {value}}
        self.change(**changed)

    def undo(self) -> None:
        """Take back the last change of the filter."""
        if self._past:
            self._future.append(self._selection)
            self._last = ("", -1e9)
            self._set_selection(self._past.pop())

    def redo(self) -> None:
        """Do again what was taken back."""
        if self._future:
            self._past.append(self._selection)
            self._set_selection(self._future.pop())

    def reset(self) -> None:
        """Drop every condition but the side."""
        self.select(Selection(team=self._selection.team))

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to do again."""
        return bool(self._future)

    def _set_selection(self, selection: Selection) -> None:
        self._selection = selection
        self._page = 0
        if self._moment and self._moment not in set(self.moments.table["moment_id"]):
            self._moment = ""
        self._tell("selection")

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
        parts = []
        if self.index.has_events:
            word = self._action_word(self.n)
            parts.append(f"{'few: ' if 0 < self.n < 30 else ''}n = {self.n} {word}")
        if self.index.has_frames:
            minutes, seconds = divmod(round(self.seconds), 60)
            played = "of play"
            if self._selection.team is not None:
                played = "with the ball" if self._selection.has_ball else "without the ball"
            parts.append(f"{minutes}:{seconds:02d} min {played}")
        return ", ".join(parts) or "nothing to count: neither events nor tracking"

    def _action_word(self, n: int) -> str:
        # A side that presses tackles and intercepts: those are not all actions on the ball.
        return ("action" if n == 1 else "actions") + (" on the ball" if self._selection.has_ball else "")

    @property
    def empty(self) -> bool:
        """Whether the selection holds neither an action nor a second."""
        return self.n == 0 and not self.seconds > 0

    @property
    def empty_words(self) -> str:
        """Which condition emptied the selection, in words; "" if it is not empty."""
        if not self.empty:
            return ""
        if not (self.index.has_events or self.index.has_frames):
            return "This match has neither events nor tracking, so there is nothing to select."
        table = self.conditions
        column = "left" if self.index.has_events else "seconds_left"
        unit = self._action_word(2) if column == "left" else "seconds"
        first = int(np.flatnonzero(table[column].to_numpy() <= 0)[0])
        if first == 0:
            return f"The match holds no {unit}."
        row, before = table.iloc[first], table.iloc[first - 1]
        said = (
            f"Nothing is left: “{row['condition']}” keeps none of the {before[column]:.0f} {unit} "
            f"that the conditions before it leave."
        )
        without = float(row[column.replace("left", "without")])
        if without > 0:
            said += f" Without it there would be {without:.0f}."
        else:
            said += " Dropping it alone does not help: the others exclude one another, too."
        gaps = describe_gaps(self.index, self._selection)
        return f"{said} ({gaps})" if gaps else said

    @property
    def gaps(self) -> list[str]:
        """What this match cannot show, each in a sentence."""
        said = []
        if self.match.tracking is None:
            said.append(
                "No tracking: there is no moving pitch, and pressure is the coarser count of defensive actions."
            )
        if self.match.events is None:
            said.append("No events: there is no pass network, and progression, score and shots are missing.")
        if self.phases is None:
            said.append("No phases of play: they need events or tracking.")
        elif len(self.phases) and bool(self.phases["estimated"].all()):
            said.append("Phases are estimated from events alone.")
        return said

    def phase_counts(self, with_ball: bool) -> tuple[dict[str, int], dict[str, int]]:
        """Return how many instances of each phase there are to choose from.

        Parameters
        ----------
        with_ball : bool
            Whether the side has the ball in the phases that are offered for it.

        Returns
        -------
        (dict, dict)
            Instances by phase of the side, and of the other side meanwhile.  Each counts the phases that the rest
            of the selection touches, its own condition left out; {} without phases.
        """
        if self.phases is None or not len(self.phases):
            return {}, {}
        key = ("phase counts", self._selection, with_ball)
        return self._cached(key, lambda: (self._phase_count(True, with_ball), self._phase_count(False, with_ball)))

    def _phase_count(self, own: bool, with_ball: bool) -> dict[str, int]:
        condition = "phases" if own else "opponent_phases"
        rest = self._selection.replace(**{condition: frozenset()})
        masks = masks_of(self.index, rest, with_ball)
        counts = {}
        for name in IN_PHASES if with_ball == own else OUT_PHASES:
            key = ("phase places", rest.team, condition, name, with_ball)
            alone, spans = self._cached(key, partial(self._phase_places, rest.team, condition, name, with_ball))
            counts[name] = int(held(spans, [a & b for a, b in zip(masks, alone)]).sum())
        return counts

    def _phase_places(self, team: str | None, condition: str, name: str, with_ball: bool) -> tuple[Any, Any]:
        """What a phase alone selects, and the spans of its instances; kept, as no filter changes them."""
        assert self.phases is not None
        own, table = condition == "phases", self.phases.table
        chosen: dict[str, Any] = {condition: frozenset({name})}
        rows = (table["phase"] == name) & (table["side"] == ("in" if with_ball == own else "out"))
        if team is not None:
            rows &= (table["team"] == team) if own else (table["team"] != team)
        return masks_of(self.index, Selection(team=team, **chosen), with_ball), spans_of(self.index, table[rows])

    # -- moments --------------------------------------------------------------------------------------

    @property
    def finder(self) -> str:
        """Whose moments are listed."""
        return self._finder

    def show_list(self, finder: str) -> None:
        """List the moments of another finder."""
        check_choice("list", finder, self.lists)
        if finder != self._finder:
            self._finder, self._page, self._moment = finder, 0, ""
            self._tell("list", "moment")

    @property
    def all_moments(self) -> Moments:
        """Every moment of the list, unfiltered."""
        if not self.lists:
            return Moments.build("none", [], match_id=self.match.match_id)
        return self._moments_of(self._finder)

    def _moments_of(self, finder: str) -> Moments:
        def make() -> Moments:
            if finder == TAG:
                return tag_moments(self.match)
            return self.phases if finder == "phase" and self.phases is not None else find(self.match, finder)

        return self._cached(("moments", finder), make)

    @property
    def moments(self) -> Moments:
        """The moments of the list that fit the selection."""
        return self._cached(("shown", self._finder, self._selection), self._filtered)

    def _filtered(self) -> Moments:
        everything, s = self.all_moments, self._selection
        table = everything.table
        keep = np.ones(len(table), bool)
        if not len(table):
            return everything
        if self._finder == "phase":
            keep &= phase_rows(self.match, table, s)
        elif s.team is not None:
            keep &= table["team"].isin([self.match.team(s.team).team_id, ""]).to_numpy(bool)
        if s.active and s.active != ("team",):
            data = self.index.has_events or self.index.has_frames
            keep &= self._touches(table) if data else in_time(table, s.segment)
        return everything.where(keep)

    def _touches(self, table: pd.DataFrame) -> NDArray[np.bool_]:
        """Moments of the list that hold at least one selected action or frame."""
        spans = self._cached(("spans", self._finder), lambda: spans_of(self.index, table))
        return held(spans, masks_of(self.index, self._selection))

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
            self._tell("page")

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
        """The moment chosen, or None."""
        if not self._moment:
            return None
        table = self.moments.table
        found = table[table["moment_id"] == self._moment]
        return found.iloc[0] if len(found) else None

    def choose_moment(self, moment_id: str) -> None:
        """Choose a moment of the list by id ("" none): the cursor moves to its start."""
        if moment_id:
            known = self.moments.table["moment_id"].tolist()
            place = known.index(check_choice_short("moment", moment_id, known))
            self._page = place // self.page_size
        self._moment = moment_id
        row = self.moment
        if row is not None:
            self._cursor = (int(row["period"]), float(row["start_s"]))
        self._tell("moment", "page")

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
        self._tell("cursor")

    @property
    def ghost(self) -> bool:
        """Whether the whole match stands behind the filtered values."""
        return self._ghost

    def show_ghost(self, on: bool) -> None:
        """Switch the comparison with the whole match on or off."""
        if bool(on) != self._ghost:
            self._ghost = bool(on)
            self._tell("ghost")

    @property
    def view(self) -> str:
        """The state as a short text; `explore(match, view=...)` and `apply_view` take it."""
        return View(self._selection, self._finder, self._moment, self._cursor, self._ghost).to_text()

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
        before = (self._selection, self._finder, self._moment, self._page)
        self._selection, self._finder, self._moment, self._page = selection, finder, "", 0
        if view.moment:
            known = self.moments.table["moment_id"].tolist()
            try:
                self._page = known.index(check_choice_short("moment", view.moment, known)) // self.page_size
            except TacticalKitError:
                self._selection, self._finder, self._moment, self._page = before
                raise
            self._moment = view.moment
        if before[0] != selection:
            self._past.append(before[0])
            self._future.clear()
            self._last = ("", -1e9)
        self._cursor, self._ghost = view.at, view.ghost
        self._tell("selection", "list", "moment", "page", "cursor", "ghost")


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
