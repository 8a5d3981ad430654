"""The filter widgets: they show the store's selection and change it; nothing is kept here."""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

from bokeh.models import (
    Button,
    CheckboxGroup,
    Column,
    Div,
    MultiChoice,
    RadioButtonGroup,
    Row,
    TextInput,
)

from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.look import FONT, Look
from tactical_kit.explorer.store import Store, timeline_to_segment
from tactical_kit.explorer.words import Words
from tactical_kit.measures.words import SCORE_STATES
from tactical_kit.phases import IN_PHASES, OUT_PHASES
from tactical_kit.scenes import style

__all__ = ["Filters", "Picks", "heading"]

Complain = Callable[[str], None]


def heading(text: str, look: Look) -> Div:
    """Return a small heading."""
    return Div(
        text=_head(text), margin=(0, 0, 2, 0),
        stylesheets=[look.widgets], sizing_mode="stretch_width",
    )  # fmt: skip


class Filters:
    """The column of conditions: side, phases of both sides, score, pressure, players, zones.

    Parameters
    ----------
    store : Store
        The state.
    look : Look
        Style sheets.
    complain : callable
        Called with a sentence when a condition is refused.
    words : Words
        The changing words of the page.
    """

    def __init__(self, store: Store, look: Look, complain: Complain, words: Words) -> None:
        self.store, self._look, self._complain, self.words = store, look, complain, words
        self._quiet = False
        self._with_ball = store.selection.has_ball
        match = store.match
        self.teams = [match.home.team_id, match.away.team_id, None]
        self.zone_names = match.pitch.named_zones().names()
        self.team = self._radio([match.home.short_name, match.away.short_name, "both"], "filter-team")
        self.role = self._radio(["with the ball", "without the ball"], "filter-role")
        self.own_head = words.place("phases-head", margin=(0, 0, 2, 0))
        self.other_head = words.place("opponent-phases-head", margin=(0, 0, 2, 0))
        self.own = self._checks([], "filter-phases")
        self.other = self._checks([], "filter-opponent-phases")
        words.label("phases", self.own)
        words.label("opponent-phases", self.other)
        self.score = self._checks(list(SCORE_STATES), "filter-score", inline=True)
        self.pressure = self._radio(["any", "under pressure", "free"], "filter-pressure")
        self.players = self._choice("filter-players", "any player")
        self.zones = self._choice("filter-zones", "anywhere")
        self.zones.options = list(self.zone_names)
        self.clear_area = Button(
            label="Clear the drawn area", name="clear-area", visible=False, stylesheets=[look.widgets],
            sizing_mode="stretch_width", margin=(2, 0, 0, 0),
        )  # fmt: skip
        self._wire()
        self.refresh()
        self.layout = self._layout()

    # -- building -------------------------------------------------------------------------------------

    def _radio(self, labels: list[str], name: str) -> RadioButtonGroup:
        return RadioButtonGroup(
            labels=labels, active=0, name=name, stylesheets=[self._look.widgets], sizing_mode="stretch_width",
            margin=(0, 0, 0, 0),
        )  # fmt: skip

    def _checks(self, labels: list[str], name: str, inline: bool = False) -> CheckboxGroup:
        return CheckboxGroup(
            labels=labels, active=[], name=name, inline=inline, stylesheets=[self._look.widgets], margin=(0, 0, 0, 0),
            sizing_mode="stretch_width",
        )  # fmt: skip

    def _choice(self, name: str, placeholder: str) -> MultiChoice:
        return MultiChoice(
            value=[], options=[], placeholder=placeholder, name=name, stylesheets=[self._look.widgets],
            sizing_mode="stretch_width", margin=(0, 0, 0, 0), search_option_limit=40, option_limit=40,
        )  # fmt: skip

    def _layout(self) -> list[Column]:
        def group(*parts: Any) -> Column:
            return Column(*parts, sizing_mode="stretch_width", margin=(0, 0, 0, 0), spacing=3)

        look = self._look
        made = [group(heading("Side", look), self.team, self.role), group(self.own_head, self.own),
                group(self.other_head, self.other)]  # fmt: skip
        if self.store.index.has_events:
            made.append(group(heading("Score, seen by the side", look), self.score))
        if self.store.index.has_frames:
            made.append(group(heading("Player on the ball", look), self.pressure))
        made.append(group(heading("Players (pick in the network, too)", look), self.players))
        made.append(group(heading("Zones (or draw an area on a pitch)", look), self.zones, self.clear_area))
        if self.store.phases is None:
            made = [g for g in made if self.own not in g.children and self.other not in g.children]
        return made

    def _wire(self) -> None:
        self.team.on_change("active", self._on(lambda new: self._set_team(self.teams[new])))
        self.role.on_change("active", self._on(self._set_role))
        self.own.on_change("active", self._on(lambda new: self._phases("phases", self.own, new)))
        self.other.on_change("active", self._on(lambda new: self._phases("opponent_phases", self.other, new)))
        self.score.on_change(
            "active", self._on(lambda new: self.store.change(score_states=self._named(self.score, new)))
        )
        self.pressure.on_change(
            "active", self._on(lambda new: self.store.change(under_pressure=(None, True, False)[new]))
        )
        self.players.on_change("value", self._on(lambda new: self.store.change(players=frozenset(new))))
        self.clear_area.on_click(lambda: self.store.change(area=None))
        self.zones.on_change("value", self._on(lambda new: self.store.change(zones=frozenset(new))))

    def _on(self, act: Callable[[Any], None]) -> Callable[[str, Any, Any], None]:
        def changed(attr: str, old: Any, new: Any) -> None:
            if self._quiet or new is None:
                return
            try:
                act(new)
            except TacticalKitError as error:
                self._complain(str(error))
                self.refresh()

        return changed

    # -- page to store --------------------------------------------------------------------------------

    def _set_team(self, team: str | None) -> None:
        squad = {p.player_id for t in self.store.match.teams if t.team_id == team for p in t.players}
        held = self.store.selection.players
        self.store.change(team=team, players=held & squad if team is not None else held)

    def _set_role(self, new: int) -> None:
        self._with_ball = new == 0
        if self.store.selection.phases or self.store.selection.opponent_phases:
            self.store.change(phases=frozenset(), opponent_phases=frozenset())
        self.refresh()

    def _phases(self, condition: str, group: CheckboxGroup, new: list[int]) -> None:
        changed: dict[str, Any] = {condition: self._named(group, new)}
        self.store.change(**changed)

    @staticmethod
    def _named(group: CheckboxGroup, new: list[int]) -> frozenset[str]:
        return frozenset(group.labels[i] for i in new if 0 <= i < len(group.labels))

    # -- store to page --------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the store's selection."""
        s, match = self.store.selection, self.store.match
        self._quiet = True
        try:
            if s.phases or s.opponent_phases - {"set play"}:  # a set play may be either side's
                self._with_ball = s.has_ball
            self.team.active = self.teams.index(s.team)
            self.role.active = 0 if self._with_ball else 1
            own, other = (IN_PHASES, OUT_PHASES) if self._with_ball else (OUT_PHASES, IN_PHASES)
            who = match.team(s.team).name if s.team is not None else "the side"
            them = match.opponent(s.team).name if s.team is not None else "the other side"
            self.words.write("phases-head", _head(f"What {who} do {'with' if self._with_ball else 'without'} the ball"))
            self.words.write("opponent-phases-head", _head(f"What {them} do meanwhile"))
            left = self.store.phase_counts(self._with_ball)
            for name, group, labels, held, counts in (
                ("phases", self.own, own, s.phases, left[0]),
                ("opponent-phases", self.other, other, s.opponent_phases, left[1]),
            ):
                if group.labels != list(labels):
                    group.labels = list(labels)
                    self.words.forget(name)  # made anew in the browser, without counts
                group.active = [i for i, label in enumerate(labels) if label in held]
                self.words.write_labels(name, [(label, counts.get(label)) for label in labels])
            self.score.active = [i for i, name in enumerate(SCORE_STATES) if name in s.score_states]
            self.pressure.active = {None: 0, True: 1, False: 2}[s.under_pressure]
            squads = [t for t in match.teams if s.team in (None, t.team_id)]
            # The box draws its labels as HTML, and names are data.
            known = {p.player_id: p for t in squads for p in t.players} | {p: match.players[p] for p in s.players}
            options = [(i, html.escape(p.name if p.shirt is None else f"{p.shirt} {p.name}")) for i, p in known.items()]
            if self.players.options != options:
                self.players.options = options
            self.players.value = sorted(s.players)
            self.clear_area.visible = s.area is not None
            self.zones.value = [z for z in self.zone_names if z in s.zones]
        finally:
            self._quiet = False


def _head(text: str) -> str:
    return f'<h3 style="margin:0;font:bold 13px {FONT}">{html.escape(text)}</h3>'


class Picks:
    """Quick picks of the segment and two fields for its limits on the clock.

    Parameters
    ----------
    store, look, complain
        As in `Filters`.
    """

    def __init__(self, store: Store, look: Look, complain: Complain) -> None:
        self.store, self._look, self._complain = store, look, complain
        self._quiet = False
        self.spans = quick_spans(store)
        self.quick = RadioButtonGroup(
            labels=[label for label, _ in self.spans], active=None, name="picks", stylesheets=[look.widgets],
            margin=(0, 0, 0, 0),
        )  # fmt: skip
        self.start = TextInput(name="segment-from", width=84, stylesheets=[look.widgets], margin=(0, 0, 0, 0))
        self.end = TextInput(name="segment-to", width=84, stylesheets=[look.widgets], margin=(0, 0, 0, 0))
        self.refresh()
        self.quick.on_change("active", self._picked)
        for field in (self.start, self.end):
            field.on_change("value", self._typed)

        def words(text: str) -> Div:
            return Div(
                text=f'<span style="font:13px/30px {FONT}">{text}</span>', stylesheets=[look.widgets],
                margin=(0, 0, 0, 0),
            )  # fmt: skip

        limits = Row(words("from"), self.start, words("to"), self.end, spacing=6, margin=(0, 0, 0, 0))  # never parted
        self.layout = Row(
            self.quick, limits,
            words(f'<span style="color:{style.FAINT}">or drag on the timeline; a double click takes it all</span>'),
            css_classes=["tk-picks"], sizing_mode="stretch_width", stylesheets=[look.wrap], margin=(0, 0, 0, 0),
        )  # fmt: skip

    def _picked(self, attr: str, old: Any, new: int | None) -> None:
        if not self._quiet and new is not None:
            self.store.change(segment=self.spans[new][1])

    def _typed(self, attr: str, old: Any, new: Any) -> None:
        # In a notebook the echo of `refresh` comes when it is over: a field that says what holds was not typed.
        if self._quiet or (self.start.value, self.end.value) == self._labels():
            return
        clock = self.store.match.clock
        try:
            (p0, t0), (p1, t1) = clock.parse(self.start.value), clock.parse(self.end.value)
            a, b = float(clock.timeline(p0, t0)), float(clock.timeline(p1, t1))
            if not a < b:
                raise TacticalKitError(f"from {self.start.value} to {self.end.value}: the end comes before the start.")
            self.store.change(segment=timeline_to_segment(self.store.match, a, b))
        except TacticalKitError as error:
            self._complain(str(error))
        self.refresh()

    def _labels(self) -> tuple[str, str]:
        """The limits of the store's segment on the clock."""
        match, segment = self.store.match, self.store.selection.segment
        p0, t0 = match.clock.from_timeline(self.store.timeline_span[0])
        # The end belongs to the period that it ends, not to the one that starts there.
        last = segment[-1] if segment else (match.periods[-1].number, 0.0, match.periods[-1].duration_s)
        return match.clock.label(int(p0), float(t0)), match.clock.label(last[0], last[2])

    def refresh(self) -> None:
        """Show the store's segment."""
        segment = self.store.selection.segment
        self._quiet = True
        try:
            self.quick.active = next((i for i, (_, span) in enumerate(self.spans) if span == segment), None)
            self.start.value, self.end.value = self._labels()
        finally:
            self._quiet = False


def quick_spans(store: Store) -> list[tuple[str, tuple[tuple[int, float, float], ...] | None]]:
    """Return (label, segment) of the quick picks: the match, each period, parts of 15 minutes on the clock.

    The last part of a half runs to its end, added time included.
    """
    match = store.match
    spans: list[tuple[str, tuple[tuple[int, float, float], ...] | None]] = [("whole match", None)]
    names = {1: "1st half", 2: "2nd half", 3: "1st extra", 4: "2nd extra", 5: "shoot-out"}
    if len(match.periods) > 1:
        spans += [(names[p.number], ((p.number, 0.0, float(p.duration_s)),)) for p in match.periods]
    for period in match.periods:
        if period.number > 2:
            continue
        for part in range(3):
            start, end = part * 900.0, (part + 1) * 900.0 if part < 2 else float(period.duration_s)
            if start < period.duration_s - 60:
                end = min(end, float(period.duration_s))
                base = 45 * (period.number - 1) + 15 * part
                spans.append((f"{base}–{base + 15}", ((period.number, start, end),)))
    return spans


class Steps:
    """Undo, redo, reset and the comparison with the whole match."""

    def __init__(self, store: Store, look: Look) -> None:
        self.store = store
        self._quiet = False

        def button(label: str, name: str) -> Button:
            return Button(label=label, name=name, stylesheets=[look.widgets], margin=(0, 0, 0, 0), width=66)

        self.undo, self.redo, self.reset = button("Undo", "undo"), button("Redo", "redo"), button("Reset", "reset")
        self.ghost = CheckboxGroup(
            labels=["compare with the whole match (hollow marks)"], active=[0], name="ghost",
            stylesheets=[look.widgets], margin=(4, 0, 0, 8),
        )  # fmt: skip
        self.undo.on_click(lambda: store.undo())
        self.redo.on_click(lambda: store.redo())
        self.reset.on_click(lambda: store.reset())
        self.ghost.on_change("active", self._ghosted)
        self.refresh()
        self.layout = Row(
            self.undo, self.redo, self.reset, self.ghost, stylesheets=[look.wrap], sizing_mode="stretch_width",
            margin=(0, 0, 0, 0),
        )  # fmt: skip

    def _ghosted(self, attr: str, old: Any, new: list[int]) -> None:
        if not self._quiet:
            self.store.show_ghost(bool(new))

    def refresh(self) -> None:
        """Show what can be taken back and whether the ghost is on."""
        self._quiet = True
        try:
            self.undo.disabled = not self.store.can_undo
            self.redo.disabled = not self.store.can_redo
            self.ghost.active = [0] if self.store.ghost else []
        finally:
            self._quiet = False
