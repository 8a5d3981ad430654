"""The explorer: one store, and for each place where it is displayed one screen of linked views.

The one place where the browser is told of changes is `Screen.batch`: in a page of a server all changes of a
batch leave together; in JupyterLab nothing changes on the page until `pn.io.push_notebook` is called.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import panel as pn
from bokeh.models import Column, CustomJS, Div, GlobalInlineStyleSheet, RadioButtonGroup, TextInput, Toggle

from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.asking import Asking
from tactical_kit.explorer.claim_view import ClaimView
from tactical_kit.explorer.claiming import Claiming, sheet_of
from tactical_kit.explorer.filters import Filters, Picks, Steps
from tactical_kit.explorer.finder_view import FinderView
from tactical_kit.explorer.halves_view import HalvesView
from tactical_kit.explorer.look import FONT, Look
from tactical_kit.explorer.number_view import NumberView
from tactical_kit.explorer.pane import QUICK_COMM_JS, LivePane, prepare_notebook, sending
from tactical_kit.explorer.places import PlacesView
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.timeline import Timeline
from tactical_kit.explorer.views import ChartView, ConditionsView
from tactical_kit.explorer.waiting import show_waiting
from tactical_kit.explorer.words import Words
from tactical_kit.match import Match
from tactical_kit.measures.selection import Selection
from tactical_kit.moments import Moments
from tactical_kit.scenes import style
from tactical_kit.scenes.playback import Playback

__all__ = ["Explorer", "Screen", "explore"]

_FOLD_JS = """
side.document.views_manager.find_one(side).el.classList.toggle("tk-open", cb_obj.active)
cb_obj.label = cb_obj.label.slice(0, -1) + (cb_obj.active ? "▾" : "▸")
"""
_CHART_JS = """
const {classList} = charts.document.views_manager.find_one(charts).el
for (const i of [0, 1, 2]) { classList.toggle(`tk-show-${i}`, cb_obj.active == i) }
"""
# The page stands: what was shown while it was made (`waiting.py`) goes.  The boxes of players and zones open when
# the Tab key comes to them and caught it several times; it closes them and goes on.
_SHOWN_JS = """
document.getElementById("tk-waiting")?.remove()
for (const box of boxes) {
  const view = box.document?.views_manager?.find_one(box)
  if (view == null || view.el.__tab_goes_on) { continue }
  view.el.__tab_goes_on = true
  view.el.addEventListener("keydown", (e) => {
    if (e.key != "Tab") { return }
    view.shadow_el.querySelector(".choices__list--dropdown")?.classList.remove("is-active") // at once
    view.choice_el?.hideDropdown(true)
  }, true)
}
"""


class Screen:
    """The views of one display of an explorer, and their links to the store.

    Parameters
    ----------
    store : Store
        The state; it may be shared with other screens.
    whole_page : bool, default False
        The screen is a page of its own: the page takes the colour of paper.
    claiming : Claiming, optional
        The claim that is being written; it may be shared with other screens.  By default one of its own.
    """

    def __init__(self, store: Store, whole_page: bool = False, claiming: Claiming | None = None) -> None:
        self.store = store
        self._deep = 0
        self.pane: LivePane | None = None
        self.root: Column | None = None
        look, self.words = Look(), Words()
        self.timeline = Timeline(store)
        self.filters = Filters(store, look, self.complain, self.words)
        self.picks = Picks(store, look, self.complain)
        self.steps = Steps(store, look)
        self.charts = [
            ChartView(store, "network", "tk-net", self.words),
            ChartView(store, "progression", "tk-prog", self.words),
            ChartView(store, "pressure", "tk-pres", self.words),
        ]
        self.asking = Asking(self.batch, self._refuse)
        self.finder = FinderView(store, look, self.words, self.asking)
        self.numbers = NumberView(store, look, self.words, self.asking)
        self.places = PlacesView(store, look, self.words)
        self.halves = HalvesView(store, look, self.words, self.asking)
        self.claim = ClaimView(claiming or Claiming(store, sheet_of(store.match)), look, self.words, self.asking)
        self.conditions = ConditionsView(store, self.words)
        self.playback = self._playback(look)
        self.said = self.words.place("said", margin=(0, 0, 4, 0))
        self.trouble = Div(text="", name="trouble", sizing_mode="stretch_width", visible=False, margin=(0, 0, 0, 0))
        self.view = TextInput(
            value=store.view, title='This view as text: copy it into tk.explore(match, view="..."), or paste one here',
            name="view", stylesheets=[look.widgets], sizing_mode="stretch_width", margin=(0, 0, 0, 0),
        )  # fmt: skip
        self.view.on_change("value", self._view_typed)
        self._quiet = False
        self.words.wire(self.timeline.figure)
        self.asking.wire(self.timeline.figure)
        shown = CustomJS(args={"boxes": [self.filters.players, self.filters.zones]}, code=QUICK_COMM_JS + _SHOWN_JS)
        self.timeline.figure.js_on_change("inner_width", shown)
        self.root = self._layout(look, whole_page)
        self.pane = LivePane(self.root, sizing_mode="stretch_width")
        self._say()
        self._forget = store.listen(self._changed)

    def close(self) -> None:
        """Stop listening to the store."""
        self._forget()

    # -- the one way to the browser -------------------------------------------------------------------

    @contextmanager
    def batch(self) -> Iterator[None]:
        """Change models within it: the browser hears of all changes at once, wherever the screen is shown."""
        self._deep += 1
        try:
            document = self.root.document if self.root is not None else None
            if self._deep > 1 or self.root is None:
                yield
            elif document is not None and document.session_context is not None:
                with pn.io.unlocked():  # everything leaves as one message, at once
                    yield
                    self.words.send()
            else:
                with sending(document, self._push):
                    yield
                    self.words.send()
        finally:
            self._deep -= 1

    def _push(self) -> None:
        if self.pane is not None:
            pn.io.push_notebook(self.pane)

    def _changed(self, what: frozenset[str]) -> None:
        # The charts leave first: the browser paints them while Python writes the rest.
        # Where a filter of the page changed the charts come first, where the finder or its numbers did the list does.
        listed = bool(what & {"list", "numbers", "page", "moment"})
        with self.batch():
            if listed:
                self._list_changed(what)
                if "numbers" in what:
                    self.numbers.update()
            if what & {"selection", "ghost"}:
                for chart in self.charts:
                    chart.update()
            if "moment" in what:
                self._play_moment()
            elif "cursor" in what:
                self._move_cursor()
            self._say()
        with self.batch():
            if "selection" in what and not listed:
                self._list_changed(what)
            if what & {"selection", "list"}:
                self.numbers.update()
            if what & {"selection", "list", "numbers", "moment"}:
                self.timeline.update_moments()
            self._rest_changed(what)
        if what & {"selection", "list", "numbers", "compare", "moment"} and self.halves.shown:
            with self.batch():
                self.halves.update()
        if what & {"selection", "list", "numbers", "claim"} and self.claim.shown:
            with self.batch():
                self.claim.update()

    def _list_changed(self, what: frozenset[str]) -> None:
        self.finder.update()
        if what & {"selection", "list", "numbers", "moment"}:
            self.places.update()

    def _refuse(self, sentence: str, ask: str) -> None:
        """Say why a question was refused where it was put; an answered one takes what was said away."""
        claimed, asked = ask.startswith("claim"), ask in self.numbers.asks
        self.claim.refuse(sentence if claimed else "")
        self.numbers.refuse(sentence if asked else "")
        self.finder.refuse("" if claimed or asked else sentence)

    def _rest_changed(self, what: frozenset[str]) -> None:
        if "selection" in what:
            self.filters.refresh()
            self.picks.refresh()
            self.conditions.update()
            if self.playback is not None:
                self.playback.turn_to(self.store.selection.team)
                self.playback.show_area(self.store.selection.area)
        self.steps.refresh()
        if self.trouble.visible:
            self.trouble.visible = False
        if "selection" in what:
            self.timeline.update_segment()  # the answer to the brush: from now on it may ask again

    def _play_moment(self) -> None:
        row = self.store.moment
        if row is None:
            return
        if self.playback is not None:
            x, y = float(row["x"]), float(row["y"])
            self.playback.go_to(
                int(row["period"]), float(row["start_s"]), play=True, until=float(row["end_s"]),
                players=row["players"], place=(x, y, str(row["team"])) if math.isfinite(x + y) else None,
            )  # fmt: skip
        else:
            self.timeline.cursor.update(
                location=float(self.store.match.clock.timeline(int(row["period"]), float(row["start_s"]))), visible=True
            )

    def _move_cursor(self) -> None:
        if self.playback is not None:
            self.playback.go_to(*self.store.cursor)

    def _say(self) -> None:
        store = self.store
        words = html.escape(store.words[:1].upper() + store.words[1:])
        empty = store.empty_words
        note = (
            f'<div role="alert" style="font-size:13px;border-left:4px solid {style.INK};padding-left:8px;'
            f'margin-top:4px">'
            f"{html.escape(empty)}</div>"
            if empty else ""
        )  # fmt: skip
        text = (
            f'<div aria-live="polite" style="font:16px/1.35 {FONT};color:{style.INK}"><b>{words}</b>'
            f'<span style="font-size:13px;color:{style.FAINT};padding-left:12px">'
            f"{html.escape(store.count_words)}</span>"
            f"{note}</div>"
        )
        self.words.write("said", text)
        self._quiet = True
        try:
            self.view.value = store.view
        finally:
            self._quiet = False

    def complain(self, sentence: str) -> None:
        """Show a refused input in words."""
        with self.batch():
            self.trouble.update(
                text=f'<div role="alert" style="font:13px {FONT};color:{style.INK};background:#f6dfd3;padding:6px 10px;'
                f'border-left:4px solid #a3360b">{html.escape(sentence)}</div>',
                visible=True,
            )

    def _view_typed(self, attr: str, old: Any, new: str) -> None:
        if self._quiet or new == self.store.view:
            return
        try:
            self.store.apply_view(new)
        except TacticalKitError as error:
            self.complain(str(error))
            with self.batch():
                self._say()

    # -- building -------------------------------------------------------------------------------------

    def _playback(self, look: Look) -> Playback | None:
        if self.store.match.tracking is None or not len(self.store.match.tracking):
            return None
        made = Playback(
            self.store.match, self.store.phases, turn=self.store.selection.team, on_cursor=self._cursor_told,
            on_area=self._area_drawn, cursors=(self.timeline.cursor,), sheets=(look.widgets,),
            batch=self.batch,
        )  # fmt: skip
        made.go_to(*self.store.cursor)
        made.show_area(self.store.selection.area)
        return made

    def _cursor_told(self, period: int, time_s: float) -> None:
        self.store.note_cursor(period, time_s)
        if self.playback is not None and not self.playback.playing:
            with self.batch():
                self._say()

    def _area_drawn(self, x0: float, y0: float, x1: float, y1: float) -> None:
        if x1 - x0 < 1 or y1 - y0 < 1:
            self.store.change(area=None)
        else:
            self.store.change(area=tuple(round(v, 1) for v in (x0, y0, x1, y1)))

    def _layout(self, look: Look, whole_page: bool) -> Column:
        stretch: dict[str, Any] = {"sizing_mode": "stretch_width", "margin": (0, 0, 0, 0)}
        side = Column(
            *self.filters.layout, self.conditions.layout, css_classes=["tk-side"], stylesheets=[look.side],
            name="filters", **stretch,
        )  # fmt: skip
        fold = Toggle(
            label="Filters: side, phases, score, players, zones ▸", name="filters-fold", css_classes=["tk-fold"],
            stylesheets=[look.widgets], syncable=False, **stretch,
        )  # fmt: skip
        fold.js_on_change("active", CustomJS(args={"side": side}, code=_FOLD_JS))
        said = Column(self.said, self.trouble, self.steps.layout, css_classes=["tk-said"], **stretch)
        line = Column(self.timeline.figure, css_classes=["tk-line"], **stretch)
        find = Column(
            self.places.layout, self.numbers.layout, css_classes=["tk-find"], stylesheets=[look.find], **stretch
        )
        more = Column(
            *self._unfolded("Half against half", "halves", self.halves, look),
            *self._unfolded("Make a claim of it, add it to the claim sheet", "claim", self.claim, look),
            css_classes=["tk-more"], spacing=6, **stretch,
        )  # fmt: skip
        pick = RadioButtonGroup(
            labels=["pass network", "ground gained", "pressure"], active=0, name="chart-pick",
            css_classes=["tk-chart-pick"], stylesheets=[look.widgets], syncable=False, margin=(0, 0, 0, 0),
        )  # fmt: skip
        charts = Column(
            pick, *(c.layout for c in self.charts), css_classes=["tk-charts"], stylesheets=[look.charts],
            name="charts", **stretch,
        )  # fmt: skip
        pick.js_on_change("active", CustomJS(args={"charts": charts}, code=_CHART_JS))
        foot = Column(self.view, css_classes=["tk-foot"], **stretch)
        sheets: list[Any] = [look.page]
        if whole_page:
            sheets.append(GlobalInlineStyleSheet(css=f"body {{ background: {style.PAPER}; margin: 0; }}"))
        page = Column(
            self._head(), line, self.picks.layout, said, fold, side, self._moving(look),
            self.finder.layout, find, more, charts, foot, stylesheets=sheets, name="explorer-page", **stretch,
        )  # fmt: skip
        return Column(page, stylesheets=[look.outer], name="explorer", **stretch)

    def _unfolded(self, label: str, name: str, part: HalvesView | ClaimView, look: Look) -> list[Any]:
        """A button that unfolds a part of the page, and the part; Python fills it when it is unfolded."""
        button = Toggle(
            label=f"{label} ▸", name=f"{name}-fold", stylesheets=[look.widgets, look.left], margin=(0, 0, 0, 0),
            sizing_mode="stretch_width",
        )  # fmt: skip
        button.js_on_change("active", CustomJS(args={"side": part.layout}, code=_FOLD_JS))

        def unfolded(attr: str, old: bool, new: bool) -> None:
            with self.batch():
                part.show(new)

        button.on_change("active", unfolded)
        return [button, part.layout]

    def _head(self) -> Div:
        match = self.store.match
        score = final_score(match)
        title = f"{html.escape(match.home.name)} {score} {html.escape(match.away.name)}"
        day = f"{match.day.day} {match.day:%B %Y} · " if match.day else ""
        facts = f"{day}{match.level}"
        label = f' · <b style="color:{style.INK}">{html.escape(match.label)}</b>' if match.label else ""
        gaps = "".join(f"<div>{html.escape(g)}</div>" for g in self.store.gaps)
        keys = "".join(
            f'<span style="padding-right:14px;white-space:nowrap">{_swatch(i)} {html.escape(t.name)}</span>'
            for i, t in enumerate(match.teams)
        )
        return Div(
            text=f'<div style="font:13px/1.5 {FONT};color:{style.FAINT}">'
            f'<h1 style="font-size:21px;margin:0;color:{style.INK}">{title}</h1>'
            f'<div><span style="color:{style.INK}">{keys}</span>{html.escape(facts)}{label}</div>{gaps}</div>',
            css_classes=["tk-head"], sizing_mode="stretch_width", margin=(0, 0, 0, 0), name="head",
        )  # fmt: skip

    def _moving(self, look: Look) -> Column:
        title = "Moving pitch"
        if self.playback is None:
            why = "The moving pitch needs tracking, and this match has none. The charts and the list work without it."
            body: list[Any] = [
                Div(text=f'<p style="font:13px {FONT};color:{style.FAINT}">{why}</p>', sizing_mode="stretch_width")
            ]
        else:
            body = [self.playback.layout]
        head = Div(
            text=f'<h2 style="font:bold 15px {FONT};color:{style.INK};margin:0">{title}</h2>', margin=(0, 0, 2, 0),
            sizing_mode="stretch_width",
        )  # fmt: skip
        return Column(
            head, *body, self.finder.card, css_classes=["tk-move"], sizing_mode="stretch_width", margin=(0, 0, 0, 0)
        )


def _swatch(side: int) -> str:
    fill = style.TEAM_FILL[side]
    shape = (
        f'<circle cx="7" cy="7" r="6" fill="{fill}"/>' if style.TEAM_MARKER[side] == "circle"
        else f'<rect x="1.5" y="1.5" width="11" height="11" fill="{fill}"/>'
    )  # fmt: skip
    return f'<svg width="14" height="14" aria-hidden="true" style="vertical-align:-2px">{shape}</svg>'


def final_score(match: Match) -> str:
    """Return "2–1" from the goals among the events, the shoot-out left out; "v" without events."""
    if match.events is None:
        return "v"
    goals = match.events[
        (match.events["kind"] == "shot") & (match.events["outcome"] == "goal") & (match.events["period"] < 5)
    ]
    score = [0, 0]
    for team, detail in zip(goals["team"], goals["detail"]):
        if team:
            side = match.team_index(team)
            score[1 - side if detail == "own-goal" else side] += 1
    return f"{score[0]}–{score[1]}"


class Explorer:
    """The explorer of a match, live in a notebook cell or a page; made by `explore`.

    Attributes
    ----------
    store : Store
        The state: change it, and every place where the explorer is displayed follows.
    claiming : Claiming
        The claim that is being written, and the sheet it goes to.
    """

    def __init__(self, match: Match, view: str | None = None, sheet: str | Path | None = None) -> None:
        self.store = Store(match, view)
        self.claiming = Claiming(self.store, sheet if sheet is not None else sheet_of(match))
        self._screens: list[Screen] = []

    @property
    def match(self) -> Match:
        """The match."""
        return self.store.match

    @property
    def selection(self) -> Selection:
        """The filter; assign a `Selection` to change it."""
        return self.store.selection

    @selection.setter
    def selection(self, selection: Selection) -> None:
        self.store.select(selection)

    @property
    def moments(self) -> Moments:
        """The moments that are listed under the selection."""
        return self.store.moments

    @property
    def view(self) -> str:
        """The state as a short text for `explore(match, view=...)`; assign one to take it on."""
        return self.store.view

    @view.setter
    def view(self, text: str) -> None:
        self.store.apply_view(text)

    def go_to(self, clock: str) -> None:
        """Move the moving pitch to an instant of the match clock, as "63:12"."""
        self.store.move_cursor(*self.match.clock.parse(clock))

    def panel(self) -> LivePane:
        """Return a Panel object that displays the explorer; each call makes a new one, all share the state."""
        context = pn.state.curdoc.session_context if pn.state.curdoc is not None else None
        screen = Screen(self.store, whole_page=context is not None, claiming=self.claiming)
        self._screens.append(screen)
        if context is not None:
            show_waiting(pn.state.curdoc, self.match)
            pn.state.on_session_destroyed(lambda _: self._drop(screen))
        assert screen.pane is not None
        return screen.pane

    def _drop(self, screen: Screen) -> None:
        screen.close()
        if screen in self._screens:
            self._screens.remove(screen)

    def as_widget(self) -> Any:
        """Return an ipywidgets widget with the traits `view` and `segment`; see `ExplorerWidget`."""
        from tactical_kit.explorer.widget import ExplorerWidget

        return ExplorerWidget(self)

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> Any:
        return self.panel()._repr_mimebundle_(include, exclude)

    def __repr__(self) -> str:
        return f"<Explorer {self.match.home.name} v {self.match.away.name}: {self.store.view}>"


def explore(match: Match, view: str | None = None, sheet: str | Path | None = None) -> Explorer:
    """Open the explorer of a match: time line, filters, finders and their moments, linked charts, the moving pitch.

    Parameters
    ----------
    match : Match
        Events, tracking or tags; what is missing is said on the page.
    view : str, optional
        A state as the text of `Explorer.view`, as "team=home;phase=build-up;at=2:1092".
    sheet : str or Path, optional
        The claim sheet that claims are added to; by default one by the id of the match in the working folder.

    Returns
    -------
    Explorer
        Displays itself as the last line of a cell.

    Raises
    ------
    TacticalKitError
        A view that cannot be read or does not fit the match.
    """
    prepare_notebook()
    return Explorer(match, view, sheet)
