"""Turns a mapped tracking table, wide or long, into arrays of positions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Tracking
from tactical_kit.sources.mapping import Mapping, TablePlan, Words, fold
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables_cells import Cells, first_of, name_pattern, texts
from tactical_kit.sources.tables_events import periods_of
from tactical_kit.sources.tables_squad import Roster, check_columns
from tactical_kit.sources.tables_values import Column, clock_seconds, numbers, to_words

__all__ = ["TrackingRows", "read_tracking"]


@dataclass(frozen=True, eq=False)
class TrackingRows:
    """Positions in metres, still in the table's own frame, and the row of each frame in the file.

    `timed` is False if the frame rate was found wrong.
    """

    tracking: Tracking
    rows: NDArray[np.int64]
    plan: TablePlan
    timed: bool = True


def check_tracking_header(plan: TablePlan, problems: Problems) -> Cells | None:
    """Open a tracking table and note which of the columns that the mapping names it does not have."""
    cells = Cells.open(plan, problems)
    if cells is None or not check_columns(plan.path, cells.columns, plan.columns.values(), problems, cells.broken):
        return None
    return cells


def read_tracking(
    plan: TablePlan,
    mapping: Mapping,
    roster: Roster,
    problems: Problems,
    say: Callable[[str, float], None] = lambda text, share: None,
) -> TrackingRows | None:
    """Read a tracking table; every fault goes to `problems`, and None comes back if it cannot be used.

    What is faulty is left out, so that the rest can be looked at: the result may be a part of the table.
    """
    cells = check_tracking_header(plan, problems)
    if cells is None:
        return None
    if not len(cells.rows):
        problems.add(plan.path, "0 frames", "at least one row below the header", "Check that the export is whole.")
        return None
    say("placing the players", 0.4)
    reader = _Reader(plan, cells, mapping, roster, problems)
    return reader.wide() if plan.form == "wide" else reader.long()


class _Reader:
    def __init__(self, plan: TablePlan, cells: Cells, mapping: Mapping, roster: Roster, problems: Problems) -> None:
        self.plan, self.cells, self.mapping, self.roster, self.problems = plan, cells, mapping, roster, problems
        self.words: Words = mapping.words
        self.plans = {p.number: p for p in mapping.periods}

    def column(self, name: str, keep: NDArray[np.int64] | None = None) -> Column | None:
        header = self.plan.columns.get(name)
        if header is None:
            return None
        cells, rows = self.cells.get(header), self.cells.rows
        return Column(
            self.plan.path, header, cells if keep is None else cells[keep], rows if keep is None else rows[keep]
        )

    def clock(
        self, keep: NDArray[np.int64] | None = None
    ) -> tuple[NDArray[np.int8], NDArray[np.float64], NDArray[np.bool_]]:
        """Period and seconds of the rows, and where one of the two is faulty, which is noted."""
        names = ("minute", "second") if self.plan.clock.form == "minute and second" else ("time",)
        columns = [c for c in (self.column(n, keep) for n in names) if c is not None]
        if self.plan.clock.form in ("mm:ss", "timestamp"):  # a column of texts that arrow took for moments of its own
            columns = [Column(c.file, c.name, texts(c.cells), c.rows) for c in columns]
        period, bad = periods_of(columns, self.column("period", keep), self.plan, self.plans, self.words, self.problems)
        time_s = clock_seconds(
            columns, period, self.plan.clock, self.plans, self.problems, self.plan.decimal,
            thousands=self.plan.thousands,
        )  # fmt: skip
        return period, time_s, bad | np.isnan(time_s) | np.logical_or.reduce([c.bad for c in columns])

    # -- wide -----------------------------------------------------------------------------------------

    def wide(self) -> TrackingRows | None:
        plan = self.plan
        pattern = name_pattern(plan.pattern)
        used = set(plan.columns.values())
        players: dict[str, dict[str, str]] = {}
        ball: dict[str, str] = {k[5:]: h for k, h in plan.columns.items() if k in ("ball_x", "ball_y", "ball_z")}
        sides: dict[str, int] = {}
        for header in self.cells.columns:
            found = pattern.fullmatch(header)
            if header in used or not found:
                continue
            parts = found.groupdict()
            axis = parts["axis"].lower()
            name = parts.get("player") or parts.get("team") or ""
            if fold(name) in self.words.ball and "shirt" not in parts:
                ball.setdefault(axis, header)
                continue
            if axis == "z":
                continue
            side = self._side(parts.get("team"))
            if "team" in parts and side is None:
                continue
            player = self._player(parts.get("player") or parts["shirt"], side, header)
            if player:
                axes = players.setdefault(player, {})
                if axis in axes:
                    self.problems.add(
                        plan.path, f"{axes[axis]!r} and {header!r}", "one column for each coordinate of a player",
                        "Remove one of them, or name it otherwise.", 1,
                    )  # fmt: skip
                axes[axis] = header
                if side is not None:
                    sides[player] = side
        if not players:
            shown = ", ".join(self.cells.columns[:8])
            self.problems.add(
                plan.path, f"no header that fits the pattern {plan.pattern!r}", "columns of players",
                f"The header begins {shown}; mend pattern, or add the team's words under [words.team].", 1,
            )  # fmt: skip
            return None
        for player, axes in players.items():
            if len(axes) < 2:
                there = next(iter(axes.values()))
                self.problems.add(
                    plan.path, f"{there!r} without the other coordinate of {player!r}",
                    "an x and a y column for each player", "Mend the header, or remove the column.", 1,
                )  # fmt: skip
        players = {player: axes for player, axes in players.items() if len(axes) == 2}
        period, time_s, bad = self.clock()
        frames = len(self.cells.rows)
        order, team_index = self._order(list(players))
        xy = np.empty((frames, len(order), 2), np.float32)
        for p, name in enumerate(order):
            xy[:, p, 0], xy[:, p, 1] = self._places(players[name]["x"], players[name]["y"])
        ball_xyz = np.full((frames, 3), np.nan, np.float32)
        if "x" in ball and "y" in ball:
            ball_xyz[:, 0], ball_xyz[:, 1] = self._places(ball["x"], ball["y"])
        if "z" in ball:
            ball_xyz[:, 2] = self._height(ball["z"])
        good = np.flatnonzero(~bad)
        if len(good) == frames:
            return self._finish(period, time_s, order, team_index, xy, ball_xyz, self.cells.rows, None)
        return self._finish(
            period[good], time_s[good], order, team_index, xy[good], ball_xyz[good], self.cells.rows[good], good
        )

    def _side(self, word: str | None) -> int | None:
        meaning = None if word is None else self.words.look_up("team", word)
        return None if meaning is None else ("home", "away").index(meaning)

    def _player(self, cell: str, side: int | None, header: str) -> str:
        if side is not None:
            found: str | None = self.roster.meet(cell, side) or None
        else:
            found = self.roster.find(cell, None)
        if found is None:
            why = "" if self.roster.given else " Without a squad, the pattern has to hold {team}."
            self.problems.add(
                self.plan.path,
                repr(cell),
                "a player of one of the squads",
                f"Add the player to a squad, or mend the header.{why}",
                1,
                header,
            )
        return found or ""

    def _order(self, names: list[str]) -> tuple[list[str], NDArray[np.int8]]:
        """Players in the order of the squads, home side first."""
        place = {e.player_id: (s, i) for s, squad in enumerate(self.roster.squads) for i, e in enumerate(squad)}
        order = sorted(names, key=lambda n: place[n])
        return order, np.array([place[n][0] for n in order], np.int8)

    def _places(self, x_header: str, y_header: str) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        columns = self._named(x_header), self._named(y_header)
        x, y = (numbers(c, self.problems, self.plan.decimal, thousands=self.plan.thousands) for c in columns)
        x, y = self.plan.coordinates.to_pitch(x, y, self.mapping.pitch)  # type: ignore[assignment]
        half = np.isnan(x) != np.isnan(y)
        for i in np.flatnonzero(half & ~columns[0].bad & ~columns[1].bad):  # a cell that is no number is noted
            self.problems.add(
                self.plan.path, "one coordinate without the other", "both or neither",
                "Fill in the other one, or empty both.", int(self.cells.rows[i]),
                x_header if np.isnan(x[i]) else y_header,
            )  # fmt: skip
        x[half] = y[half] = np.nan
        return x.astype(np.float32), y.astype(np.float32)

    def _height(self, header: str) -> NDArray[np.float32]:
        z = numbers(self._named(header), self.problems, self.plan.decimal, thousands=self.plan.thousands)
        unit = {"cm": 0.01, "yd": 0.9144}.get(self.plan.coordinates.unit, 1.0)  # shares have no height: metres
        return (z * unit).astype(np.float32)

    def _named(self, header: str) -> Column:
        return Column(self.plan.path, header, self.cells.get(header), self.cells.rows)

    # -- long -----------------------------------------------------------------------------------------

    def long(self) -> TrackingRows | None:
        plan, rows = self.plan, self.cells.rows
        keys = [plan.columns[n] for n in ("period", "time", "minute", "second") if n in plan.columns]
        codes = np.zeros(len(rows), np.int64)
        for header in keys:  # one code for each distinct instant
            more, distinct, _ = self.cells.codes(header)
            codes = pd.factorize(codes * len(distinct) + more)[0]
        frames = int(codes.max()) + 1
        first = first_of(codes, frames)
        period, time_s, bad = self.clock(first)
        who, names, _ = self.cells.codes(plan.columns["player"])
        if "team" in plan.columns:
            team_codes, team_words, _ = self.cells.codes(plan.columns["team"])
        else:
            team_codes, team_words = (
                np.zeros(len(rows), np.int64),
                np.array([""], object),
            )
        pairs, pair_met = np.unique(who * len(team_words) + team_codes, return_index=True)
        # Rows that name their team come first: only then can a name without one be told, or seen to be in doubt.
        last = np.argsort(team_words[pairs % len(team_words)] == "", kind="stable")
        pairs, pair_met = pairs[last], pair_met[last]
        index = np.full(len(names) * len(team_words), -2, np.int64)
        players: list[str] = []
        unknown_teams: set[str] = set()
        for pair, met_at in zip(pairs, pair_met):
            name, word = str(names[pair // len(team_words)]), str(team_words[pair % len(team_words)])
            if fold(name) in self.words.ball or fold(word) in self.words.ball:
                index[pair] = -1
                continue
            side = self._side(word) if word else None
            if word and side is None:
                if word not in unknown_teams:
                    unknown_teams.add(word)
                    column = Column(
                        plan.path, plan.columns["team"], np.array([word], object), rows[met_at : met_at + 1]
                    )
                    to_words(column, "team", self.words, self.problems, strict=True)
                continue
            player = self._long_player(name, side, int(rows[met_at]))
            if player:
                if player not in players:
                    players.append(player)
                index[pair] = players.index(player)
        if not players:
            return None
        order, team_index = self._order(players)
        place = {name: i for i, name in enumerate(order)}
        index = np.array([place[players[i]] if i >= 0 else i for i in index], np.int64)
        column_of = index[who * len(team_words) + team_codes]
        x, y = self._places(plan.columns["x"], plan.columns["y"])
        told = np.flatnonzero(column_of >= -1)  # of the others was said that nobody knows who they are
        self._check_once(codes * (len(order) + 1) + column_of, names, who, told)
        xy = np.full((frames, len(order), 2), np.nan, np.float32)
        on = column_of >= 0
        xy[codes[on], column_of[on], 0], xy[codes[on], column_of[on], 1] = x[on], y[on]
        ball = np.full((frames, 3), np.nan, np.float32)
        is_ball = column_of == -1
        ball[codes[is_ball], 0], ball[codes[is_ball], 1] = x[is_ball], y[is_ball]
        if "z" in plan.columns:
            ball[codes[is_ball], 2] = self._height(plan.columns["z"])[is_ball]
        sort = np.lexsort((time_s, period))  # rows of a long table may come player by player
        sort = sort[~bad[sort]]
        return self._finish(
            period[sort], time_s[sort], order, team_index, xy[sort], ball[sort], rows[first][sort], first[sort]
        )

    def _long_player(self, name: str, side: int | None, row: int) -> str:
        found = (self.roster.meet(name, side) if side is not None else self.roster.find(name, None)) if name else None
        if not found:
            why = "" if self.roster.given else " Without a squad, the table has to name the team of each row."
            self.problems.add(
                self.plan.path,
                repr(name) if name else "an empty cell",
                "a player of one of the squads, or the ball",
                f"Add the player to a squad, or the word for the ball under words.ball.{why}",
                row,
                self.plan.columns["player"],
            )
        return found or ""

    def _check_once(
        self, keys: NDArray[np.int64], names: NDArray[np.object_], who: NDArray[np.int64], told: NDArray[np.int64]
    ) -> None:
        twice = pd.Series(keys[told]).duplicated().to_numpy()
        for i in told[np.flatnonzero(twice)][: self.problems.limit + 1]:
            self.problems.add(
                self.plan.path,
                f"{str(names[who[i]])!r} a second time in one frame",
                "one row for each player and frame",
                "Remove the copied row; if frames share a time, give the time with more decimals.",
                int(self.cells.rows[i]),
                self.plan.columns["player"],
            )

    # -- both -----------------------------------------------------------------------------------------

    def _finish(
        self,
        period: NDArray[np.int8],
        time_s: NDArray[np.float64],
        order: list[str],
        team_index: NDArray[np.int8],
        xy: NDArray[np.float32],
        ball: NDArray[np.float32],
        rows: NDArray[np.int64],
        records: NDArray[np.int64] | None,
    ) -> TrackingRows | None:
        if not len(period):
            return None
        seen = np.isfinite(ball[:, 0])
        alive = seen if seen.any() else np.ones(len(period), bool)
        if not seen.any():
            self.problems.add(
                self.plan.path,
                "no place of the ball",
                "the ball among the positions",
                "Name its columns, as ball_x and ball_y, or its word under words.ball; without it much cannot be told.",
                kind="warning",
            )
        column = self.column("alive", records)
        if column is not None:
            alive = self._texts_to(column, "alive") == "yes"
        owner = None
        column = self.column("owner", records)
        if column is not None:
            words = self._texts_to(column, "team")
            owner = np.where(words == "home", 0, np.where(words == "away", 1, -1)).astype(np.int8)
        before = len(self.problems.errors)
        good = self._rising(period, time_s, rows)
        if not good.all():
            period, time_s, rows = period[good], time_s[good], rows[good]
            xy, ball, alive = xy[good], ball[good], alive[good]
            owner = None if owner is None else owner[good]
        rate = self._rate(period, time_s, rows)
        timed = rate is not None and len(self.problems.errors) == before
        tracking = Tracking(rate or 25.0, period, time_s, tuple(order), team_index, xy, ball, alive, owner)
        return TrackingRows(tracking, rows, self.plan, timed)

    def _rising(
        self, period: NDArray[np.int8], time_s: NDArray[np.float64], rows: NDArray[np.int64]
    ) -> NDArray[np.bool_]:
        """Tell which frames come after all before them; the others are noted."""
        clock = period * 1e7 + time_s
        latest = np.maximum.accumulate(clock)
        good = np.r_[True, clock[1:] > latest[:-1]]
        time = self.plan.columns.get("time", self.plan.columns.get("second", ""))
        step = np.flatnonzero(np.diff(clock) <= 0)
        for i in step[: self.problems.limit + 1]:
            same = period[i] == period[i + 1]
            self.problems.add(
                self.plan.path,
                f"{time_s[i + 1]:g} s after {time_s[i]:g} s"
                if same
                else f"period {period[i + 1]} after period {period[i]}",
                "time that rises from frame to frame",
                "Remove frames that stand twice, give the time with more decimals, or name the period's column.",
                int(rows[i + 1]),
                time,
            )
        return good

    def _texts_to(self, column: Column, name: str) -> NDArray[np.object_]:
        cells = texts(column.cells)
        codes, distinct = pd.factorize(cells)
        first = first_of(codes, len(distinct))
        short = Column(column.file, column.name, np.asarray(distinct, object), column.rows[first])
        return to_words(short, name, self.words, self.problems, strict=True)[0][codes]

    def _rate(self, period: NDArray[np.int8], time_s: NDArray[np.float64], rows: NDArray[np.int64]) -> float | None:
        """Frames a second; time has to rise evenly, gaps of whole frames apart."""
        same = np.diff(period) == 0
        steps = np.diff(time_s)
        time = self.plan.columns.get("time", self.plan.columns.get("second", ""))
        steps = steps[same]
        given = self.plan.rate_hz
        if not len(steps):
            if not given:
                self.problems.add(
                    self.plan.path, "a single frame", "rate_hz in the mapping", "Write rate_hz, as rate_hz = 25."
                )
                return None
            return given
        median = float(np.median(steps))
        # Times rounded to hundredths make steps of 0.03 and 0.04: the mean over unbroken stretches is truer.
        whole = steps[steps < 1.5 * median]
        step = float(whole.mean())
        rate = given or float(np.round(1 / step, 2))
        if abs(1 / step - rate) > 0.02 * rate:
            self.problems.add(
                self.plan.path,
                f"{1 / step:.4g} frames a second by the clock",
                f"the stated {rate:g} frames a second",
                "Mend rate_hz, or the form of the clock.",
                column=time,
            )
            return rate
        # A seventh of a frame, and what rounding to hundredths of a second does.
        uneven = np.abs(steps - np.round(steps * rate) / rate) > 0.15 / rate + 0.0051
        if uneven.mean() > 0.01:
            i = int(np.flatnonzero(same)[np.flatnonzero(uneven)[0]])
            self.problems.add(
                self.plan.path,
                f"a step of {time_s[i + 1] - time_s[i]:.3g} s, and {int(uneven.sum()) - 1} more uneven steps",
                f"frames {1 / rate:.3g} s apart",
                "The frame rate changes: bring the table to one rate first.",
                int(rows[i + 1]),
                time,
            )
        return rate
