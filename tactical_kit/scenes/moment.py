"""Moments as pictures: one of them with everybody on the pitch, or the places of many."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.finders import finder_names, get_finder
from tactical_kit.match import Match
from tactical_kit.measures.carries import carry_table
from tactical_kit.measures.passes import pass_table
from tactical_kit.moments import CORE_COLUMNS, Moments
from tactical_kit.scenes.chart_words import brief_name, empty_message, hover_lines, match_words, side_key
from tactical_kit.scenes.instant_chart import snapshot_scene
from tactical_kit.scenes.scene import Arrow, Disc, KeyItem, Scene

__all__ = ["show_moment", "show_moments"]

_SAID = 5  # numbers of the finder that the caption tells unless others are named


def show_moment(
    match: Match,
    moment: pd.Series | Moments,
    *,
    after_s: float = 0.0,
    most_s: float = 10.0,
    columns: tuple[str, ...] | None = None,
    names: bool = False,
    least_run_m: float = 4.0,
    most_rings: int = 8,
) -> Scene:
    """Show one moment: where everybody was, who is named in it, where the ball went, and the finder's numbers.

    Parameters
    ----------
    match : Match
        The match it was found in; needs tracking or a still of that instant.
    moment : Series or Moments
        A row of a finder's table, as `found.table.iloc[0]`, or Moments that hold just one.
    after_s : float, default 0
        The instant shown is this long after the moment began, s.
    most_s : float, default 10
        The way of the ball is drawn from that instant until the moment ends, at most so long, s.
    columns : tuple of str, optional
        Which of the finder's numbers the caption tells; by default the first five that are known.
    names : bool, default False
        Write names beside the players.
    least_run_m : float, default 4
        Players of the moment who come at least this far meanwhile are given a dashed arrow, m.
    most_rings : int, default 8
        Players of the moment are ringed if there are at most so many: a block names them all.

    Returns
    -------
    Scene
        Turned so that the side of the moment attacks from left to right.

    Raises
    ------
    TacticalKitError
        No single moment, or an unknown column.
    MissingDataError
        A match without positions.
    """
    row = _row(moment)
    team, period = str(row["team"]), int(row["period"])
    side = match.team_index(team)
    start = float(row["start_s"]) + float(after_s)
    end = max(start, min(float(row["end_s"]), start + float(most_s)))
    named = frozenset(str(p) for p in row["players"])
    chosen = named if len(named) <= most_rings else frozenset()
    base = snapshot_scene(match.snapshot(period, start), match, team, names, picked=chosen)
    way = _way_of_the_ball(match, side, period, start, end)
    runs = _runs(match, team, period, start, end, base, chosen, least_run_m)
    legend = [*base.legend]
    if chosen:
        legend.append(KeyItem("none", "ring: named in the moment"))
    for style, words in (("pass", "pass"), ("dribble", "carry"), ("run", "run")):
        if any(a.style == style for a in (*way, *runs)):
            legend.append(KeyItem(style, words))
    clock, until = (match.clock.label(period, s) for s in (start, float(row["end_s"])))
    return base.replace(
        title=f"{clock}, {row['finder']}: {brief_name(match, side)}",
        subtitle=f"{match_words(match)}\nUntil {until}; the ball's way in the next {end - start:.0f} s",
        marks=(*way, *runs, *base.marks),
        attacking=f"{brief_name(match, side)} attack\u00a0→",
        n=None,
        caption=_numbers_in_words(match, row, columns),
        legend=tuple(legend),
    )


def show_moments(
    match: Match,
    moments: Moments,
    of: Moments | None = None,
    *,
    title: str = "",
    caption: str = "",
    counted: str = "counts",
    others: str = "does not",
) -> Scene:
    """Show the places of many moments on one pitch: those that count filled, the others hollow.

    Parameters
    ----------
    match : Match
        The match they were found in.
    moments : Moments
        Those that count.
    of : Moments, optional
        All that were looked at; those not in `moments` are drawn hollow.  Default: `moments` alone.
    title : str
        What the picture says; default the name of the finder.
    caption : str
        The numbers behind it, as `claim(...).numbers`.
    counted, others : str
        Words for the filled and the hollow marks.

    Returns
    -------
    Scene
        Each place in the attacking frame of the moment's side; the keys of the marks are moment ids.  Moments
        without a place are left out, and the caption says how many.

    Raises
    ------
    TacticalKitError
        Moments of another match, or some that are not in `of`.
    """
    whole = moments if of is None else of
    for found in (moments, whole):
        if not isinstance(found, Moments):
            raise TacticalKitError(f"show_moments needs Moments; met {type(found).__name__}.")
        if found.match_id != match.match_id:
            raise TacticalKitError(f"these moments are of match {found.match_id!r}, not of {match.match_id!r}.")
    table = whole.table
    counts = table["moment_id"].isin(moments.table["moment_id"]).to_numpy(bool)
    if counts.sum() != len(moments):
        raise TacticalKitError(f"{len(moments) - counts.sum()} of the moments to show are not among those in `of`.")
    placed = np.isfinite(table[["x", "y"]].to_numpy(float)).all(axis=1)
    marks = [_spot(match, row, bool(hit)) for (_, row), hit in zip(table[placed].iterrows(), counts[placed])]
    marks.sort(key=lambda disc: disc.filled)  # those that count lie on top
    sides = sorted({match.team_index(t) for t in table["team"]})
    one = sides[0] if len(sides) == 1 else None
    words = f", {counted}" if of is not None else ""
    legend = side_key(match, one, words)
    if of is not None:
        hollow = [symbol for symbol, side in (("ghost", 0), ("ghost-away", 1)) if side in (sides or (0, 1))]
        legend = (*legend, *(KeyItem(symbol, f"hollow: {others}") for symbol in hollow))
    without = int((~placed).sum())
    lost = f"{without} without a place {'is' if without == 1 else 'are'} left out" if without else ""
    said = [caption.rstrip("."), lost]
    return Scene(
        title=title or f"{moments.finder.capitalize()}, where",
        subtitle=f"{match_words(match)}\n{_period_words(match, table)}",
        marks=tuple(marks),
        pitch=match.pitch,
        attacking="both sides turned to attack\u00a0→" if one is None else f"{brief_name(match, one)} attack\u00a0→",
        source=match.label,
        n=len(whole),
        n_of=f"moments of “{whole.finder}”",
        caption="".join(f"{part}. " for part in said if part).strip(),
        legend=legend,
        message="" if marks else empty_message("moments", ""),
    )


def _row(moment: pd.Series | Moments) -> pd.Series:
    if isinstance(moment, Moments):
        if len(moment) != 1:
            raise TacticalKitError(
                f"show_moment shows one moment; met {len(moment)}. Take one, as found.table.iloc[0], or show "
                "the places of all by show_moments."
            )
        return moment.table.iloc[0]
    if not isinstance(moment, pd.Series) or any(c not in moment.index for c in CORE_COLUMNS):
        raise TacticalKitError(
            f"show_moment needs a row of a finder's table, as found.table.iloc[0]; met {type(moment).__name__}."
        )
    return moment


def _way_of_the_ball(match: Match, side: int, period: int, start: float, end: float) -> list[Arrow]:
    """Passes that are struck and carries that are begun in the span, all in the frame of `side`."""
    arrows = []
    kinds: tuple[tuple[pd.DataFrame, Literal["pass", "dribble"]], ...] = (
        (pass_table(match), "pass"),
        (carry_table(match), "dribble"),
    )
    for table, style in kinds:
        inside = (table["period"] == period) & (table["time_s"] >= start - 1e-6) & (table["time_s"] < end)
        for _, part in table[inside].iterrows():
            whose = match.team_index(part["team"])
            way = part[["x", "y", "end_x", "end_y"]].to_numpy(float) * (1 if whose == side else -1)
            if not np.isfinite(way).all() or np.hypot(way[2] - way[0], way[3] - way[1]) < 1.0:
                continue
            name = match.players[part["player"]].name if part["player"] in match.players else ""
            clock = match.clock.label(period, float(part["time_s"]))
            words = hover_lines("pass" if style == "pass" else "carry", {"at": clock, "by": name})
            x0, y0, x1, y1 = way.tolist()
            arrows.append(Arrow(x0, y0, x1, y1, style=style, width=2.2, team=whose, hover=words))
    return arrows


def _runs(
    match: Match, team: str, period: int, start: float, end: float, base: Scene, chosen: frozenset[str], least_m: float
) -> list[Arrow]:
    """Where the players of the moment went meanwhile, as dashed arrows."""
    tracking = match.tracking
    if tracking is None or end <= start:
        return []
    frame = int(tracking.indices_at(np.array([period]), np.array([end]))[0])
    if frame < 0:
        return []
    sign = match.attack_sign(team, period)
    arrows = []
    for disc in base.of(Disc):
        if not isinstance(disc, Disc) or disc.key not in chosen or disc.key not in tracking.players:
            continue
        x, y = (tracking.xy[frame, tracking.column(disc.key)].astype(float) * sign).tolist()
        if np.isfinite([x, y]).all() and np.hypot(x - disc.x, y - disc.y) >= least_m:
            name = match.players[disc.key].name
            arrows.append(Arrow(disc.x, disc.y, x, y, style="run", team=disc.team, hover=f"run of {name}"))
    return arrows


def _numbers_in_words(match: Match, row: pd.Series, columns: tuple[str, ...] | None) -> str:
    """The finder's numbers by the names of their columns, the unknown left out."""
    known = get_finder(row["finder"]).columns if row["finder"] in finder_names() else {}
    own = [name for name in row.index if name not in CORE_COLUMNS]
    for name in columns or ():
        check_choice("column", name, own)
    parts = []
    for name in columns or own:
        value, unit = _value(match, row[name]), known[name].unit if name in known else ""
        if value and (columns or name != "estimated"):
            words = known[name].label(name) if name in known else name.replace("_", " ")
            parts.append(f"{words}: {value}{f' {unit}' if unit else ''}")
    return "; ".join(parts if columns else parts[:_SAID])


def _value(match: Match, value: Any) -> str:
    """A value for a reader: names in place of ids, "" for what is unknown."""
    if isinstance(value, tuple):
        return ", ".join(_value(match, v) for v in value)
    if pd.isna(value):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, int | float | np.number):
        return f"{float(value):.1f}".removesuffix(".0")
    return match.players[value].name if value in match.players else str(value)


def _spot(match: Match, row: pd.Series, counts: bool) -> Disc:
    clock = match.clock.label(int(row["period"]), float(row["start_s"]))
    return Disc(
        float(row["x"]), float(row["y"]), radius_m=1.3, filled=counts, team=match.team_index(row["team"]),
        hover=hover_lines(clock, {"moment": row["moment_id"]}), key=row["moment_id"],
    )  # fmt: skip


def _period_words(match: Match, table: pd.DataFrame) -> str:
    names = [match.clock[int(p)].name for p in sorted(table["period"].unique())]
    return " and ".join(names).capitalize()
