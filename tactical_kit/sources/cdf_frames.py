"""Reading tracking.jsonl of the Common Data Format line by line into arrays."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tactical_kit.match import PERIOD_NAMES
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.fields import Fields
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.text import MAX_LINE, decode_guarded, parse_json_guarded

__all__ = ["Frames", "read_frames", "unsafe"]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICRO = timedelta(microseconds=1)
_BLOCK = 4096  # frames turned to arrays at a time
_MOST_PLAYERS = 200
_OPENERS = 400  # brackets in a line beyond which the nesting is looked at


@dataclass
class Frames:
    """Tracking as it stands in the file: UTC microseconds, the file's own frame of reference."""

    match_id: str = ""
    team_ids: tuple[str, str] = ("", "")
    players: list[str] = field(default_factory=list)
    team_index: list[int] = field(default_factory=list)
    frame_id: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    period: NDArray[np.int8] = field(default_factory=lambda: np.zeros(0, np.int8))
    micro: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    xy: NDArray[np.float32] = field(default_factory=lambda: np.zeros((0, 0, 2), np.float32))
    ball: NDArray[np.float32] = field(default_factory=lambda: np.zeros((0, 3), np.float32))
    alive: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, bool))
    status_told: bool = False
    owner: NDArray[np.int8] | None = None
    rows: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))  # lines of the file

    def keep(self, mask: NDArray[np.bool_]) -> None:
        """Leave out the frames where the mask is False."""
        for name in ("frame_id", "period", "micro", "xy", "ball", "alive", "rows"):
            setattr(self, name, getattr(self, name)[mask])
        if self.owner is not None:
            self.owner = self.owner[mask]

    def __len__(self) -> int:
        return len(self.period)


def unsafe(identifier: str) -> str:
    """Take off the "id:" that the writer puts before ids that the validator would refuse."""
    return identifier[3:] if identifier.startswith("id:") else identifier


def read_frames(path: Path, problems: Problems, progress: Callable[[float], None] | None = None) -> Frames | None:
    """Return the frames of a tracking.jsonl, or None if there is none that can be read; every fault is noted.

    A faulty frame is noted and left out, so that the others can be looked at.

    Parameters
    ----------
    path : Path
        The file; it is read line by line.
    problems : Problems
        The collector.
    progress : callable, optional
        Called now and then with the share of the file read, 0 to 1.
    """
    before = len(problems.errors)
    made = _Builder(path, problems)
    try:
        size = max(path.stat().st_size, 1)
        done = 0
        with path.open("rb") as lines:
            row = 0
            while line := lines.readline(MAX_LINE + 1):
                row += 1
                done += len(line)
                if len(line) > MAX_LINE:
                    problems.add(
                        path,
                        f"a line of more than {MAX_LINE:,} bytes",
                        f"lines of at most {MAX_LINE:,} bytes",
                        "Each line holds one frame; the line breaks may be lost.",
                        row,
                    )
                    break
                if line.isspace():
                    continue
                made.add(line, row)
                if progress is not None and row % 5000 == 0:
                    progress(done / size)
    except OSError as error:
        problems.add(path, (error.strerror or str(error)).lower(), "a file that can be read", "Check the name.")
        return None
    frames = made.finish()
    if not len(frames) and len(problems.errors) == before:
        problems.add(path, "0 frames", "at least one frame", "Leave the file out if there is no tracking.")
    return frames if len(frames) else None


class _Builder:
    def __init__(self, path: Path, problems: Problems) -> None:
        self.path, self.problems = path, problems
        self.columns: dict[tuple[int, str], int] = {}
        self.known_lists: dict[tuple[tuple[str, ...], tuple[str, ...]], NDArray[np.int64]] = {}
        self.team_ids: tuple[str, str] | None = None
        self.match_id: str | None = None
        self.blocks: list[tuple[NDArray, ...]] = []
        self.told = False
        self.owners = self.crowded = False
        self._fresh()
        self.decode = json.JSONDecoder(parse_constant=_no_constant).decode

    def _fresh(self) -> None:
        self.rows: list[int] = []
        self.heads: list[tuple[int, int, int]] = []
        self.places: list[tuple[NDArray[np.int64], list[Any]]] = []
        self.balls: list[tuple[Any, Any, Any]] = []
        self.states: list[tuple[bool, int]] = []

    def add(self, line: bytes, row: int) -> None:
        """Take one line; whatever is odd about it is looked at again, slowly, to say what it is."""
        try:
            if line.count(b"{") + line.count(b"[") > _OPENERS:
                raise ValueError
            obj = self.decode(line.decode("utf-8").strip())
            stamp = datetime.fromisoformat(obj["timestamp"])
            if stamp.tzinfo is None:
                stamp = stamp.replace(tzinfo=UTC)
            teams, ball = obj["teams"], obj["ball"]
            home, away = teams["home"], teams["away"]
            ids = (home["id"], away["id"])
            match_id = obj["match"]["id"]
            if ids != self.team_ids or match_id != self.match_id:
                self._same_match(ids, match_id, row)
            first, second = home["players"], away["players"]
            key = (tuple([p["id"] for p in first]), tuple([p["id"] for p in second]))
            columns = self.known_lists.get(key)
            if columns is None:
                columns = self._columns_of(key)
            flat = [v for p in first for v in (p["x"], p["y"])]
            flat += [v for p in second for v in (p["x"], p["y"])]
            frame_id, period = obj["frame_id"], words.PERIOD_FROM[obj["period"]]
            if type(frame_id) is not int or abs(frame_id) > 2**62 or {str, bool} & set(map(type, flat)):
                raise ValueError
            status, owner = ball.get("status"), ball.get("poss_team_id")
            head = (frame_id, period, (stamp - _EPOCH) // _MICRO)
            spot = (ball["x"], ball["y"], ball.get("z"))
            if {str, bool} & set(map(type, spot)) or status not in (True, False, None):
                raise ValueError
            side = -1 if owner is None else ids.index(owner)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            self._explain(line, row)
            return
        if owner is not None or "poss_status" in ball:
            self.owners = True
        if status is not None:
            self.told = True
        self.rows.append(row)
        self.heads.append(head)
        self.places.append((columns, flat))
        self.balls.append(spot)
        self.states.append((status is not False, side))
        if len(self.rows) >= _BLOCK:
            self._flush()

    def _same_match(self, ids: tuple[str, str], match_id: str, row: int) -> None:
        if not all(isinstance(i, str) for i in (*ids, match_id)) or ids[0] == ids[1]:
            raise ValueError
        if self.team_ids is None:
            self.team_ids, self.match_id = ids, match_id
            return
        if ids != self.team_ids:
            self.problems.add(
                self.path,
                f"teams {ids[0]!r} and {ids[1]!r}",
                f"the teams {self.team_ids[0]!r} and {self.team_ids[1]!r} of the first frame",
                "One file holds one match.",
                row,
            )
        if match_id != self.match_id:
            self.problems.add(
                self.path,
                f"match {match_id!r}",
                f"the match {self.match_id!r} of the first frame",
                "One file holds one match.",
                row,
            )

    def _columns_of(self, key: tuple[tuple[str, ...], tuple[str, ...]]) -> NDArray[np.int64]:
        together = key[0] + key[1]
        if len(set(together)) < len(together) or not all(isinstance(i, str) for i in together):
            raise ValueError
        wanted = dict.fromkeys((side, player) for side, ids in enumerate(key) for player in ids)
        if any((1 - side, player) in self.columns for side, player in wanted):
            raise ValueError
        if len(self.columns.keys() | wanted.keys()) > _MOST_PLAYERS:
            self.crowded = True
            raise ValueError
        for one in wanted:
            self.columns.setdefault(one, len(self.columns))
        made = np.array([self.columns[side, p] for side, ids in enumerate(key) for p in ids], np.int64)
        if len(self.known_lists) < 10_000:
            self.known_lists[key] = made
        return made

    def _explain(self, line: bytes, row: int) -> None:
        """Say what is wrong with a line."""
        problems, before = self.problems, len(self.problems.errors)
        text = decode_guarded(line.rstrip(b"\r\n"), self.path, problems, row)
        if text is None:
            return
        value = parse_json_guarded(text, self.path, problems, row)
        if len(problems.errors) > before:
            return
        if row == 1 and line.startswith(b"\xef\xbb\xbf"):
            self.add(line[3:], row)
            return
        top = Fields(value, self.path, problems, row=row)
        top.whole("frame_id", low=-(2**62), high=2**62)
        top.moment("timestamp")
        top.choice("period", tuple(words.PERIOD_FROM))
        top.object("match").text("id")
        sides = top.object("teams")
        seen: dict[str, str] = {}
        ids = []
        for name in ("home", "away"):
            team = sides.object(name)
            ids.append(team.text("id"))
            for player in team.objects("players"):
                who = player.text("id")
                player.number("x", None), player.number("y", None)
                if who in seen:
                    player.note("id", repr(who), "each player once in a frame")
                seen[who] = name
                if (1 if name == "home" else 0, who) in self.columns:
                    player.note("id", repr(who), f"a player of the {name} side")
        if ids[0] is not None and ids[0] == ids[1]:
            sides.note("", f"{ids[0]!r} twice", "two teams")
        ball = top.object("ball")
        for axis in "xyz":
            ball.number(axis, None)
        ball.flag("status", None)
        owner = ball.text("poss_team_id", None)
        if owner is not None and owner not in ids:
            ball.note("poss_team_id", repr(owner), f"{ids[0]!r} or {ids[1]!r}")
        if self.crowded:
            top.note("teams", f"more than {_MOST_PLAYERS} players", "the players of two squads")
        if len(problems.errors) == before:
            top.note("", "a frame that cannot be read", "a frame as the standard has it")

    def _flush(self) -> None:
        if not self.rows:
            return
        n = len(self.rows)
        xy = np.full((n, len(self.columns), 2), np.nan, np.float64)
        start = 0
        while start < n:  # frames with the same list of players go in together
            columns = self.places[start][0]
            stop = start + 1
            while stop < n and self.places[stop][0] is columns:
                stop += 1
            part = np.array([flat for _, flat in self.places[start:stop]], np.float64)
            xy[start:stop, columns] = part.reshape(stop - start, -1, 2)
            start = stop
        ball = np.array(self.balls, np.float64)
        for name, values in (("teams", xy.reshape(n, -1)), ("ball", ball)):  # both are views: faults become NaN
            wild = (np.abs(values) > 1e6).any(axis=1)
            for i in np.flatnonzero(wild):
                worst = values[i][np.abs(values[i]) > 1e6][0]
                self.problems.add(
                    self.path,
                    f"{worst:g} m",
                    "a place near the pitch",
                    "Correct the value in the file.",
                    self.rows[i],
                    name,
                )
            values[np.abs(values) > 1e6] = np.nan
        heads = np.array(self.heads, np.int64)
        states = np.array(self.states, np.int64)
        self.blocks.append(
            (
                heads[:, 0],
                heads[:, 1].astype(np.int8),
                heads[:, 2],
                xy.astype(np.float32),
                ball.astype(np.float32),
                states[:, 0].astype(bool),
                states[:, 1].astype(np.int8),
                np.array(self.rows),
            )
        )
        self._fresh()

    def finish(self) -> Frames:
        """Put the blocks together."""
        try:
            self._flush()
        except (OverflowError, ValueError, TypeError):  # pragma: no cover - caught line by line
            self.problems.add(self.path, "a number that cannot be read", "numbers", "Look where the file comes from.")
        made = Frames(self.match_id or "")
        if not self.blocks or self.team_ids is None:
            return made
        joined = [np.concatenate([b[i] for b in self.blocks]) for i in (0, 1, 2, 4, 5, 6, 7)]
        made.frame_id, made.period, made.micro, made.ball, made.alive, owner, rows = joined
        xy = np.full((len(made), len(self.columns), 2), np.nan, np.float32)
        start = 0
        for block in self.blocks:
            part = block[3]
            xy[start : start + len(part), : part.shape[1]] = part
            start += len(part)
        self.blocks.clear()
        half = np.isnan(xy[..., 0]) != np.isnan(xy[..., 1])
        if half.any():
            xy[half] = np.nan
        order = sorted(range(len(self.columns)), key=lambda c: (keys[c][0], c)) if (keys := list(self.columns)) else []
        made.players = [keys[c][1] for c in order]
        made.team_index = [keys[c][0] for c in order]
        made.xy = xy if order == list(range(len(order))) else np.ascontiguousarray(xy[:, order])
        made.team_ids = (unsafe(self.team_ids[0]), unsafe(self.team_ids[1]))
        made.status_told = self.told
        made.owner = owner if self.owners else None
        made.rows = rows
        self._check_order(made, rows)
        clock = made.period * np.int64(10**17) + made.micro
        good = clock >= np.maximum.accumulate(clock)
        good[1:] &= made.frame_id[1:] > np.maximum.accumulate(made.frame_id)[:-1]
        if not good.all():
            made.keep(good)
        return made

    def _check_order(self, made: Frames, rows: NDArray[np.int64]) -> None:
        step = np.diff(made.period)
        back = (step < 0) | ((step == 0) & (np.diff(made.micro) < 0))
        for i in np.flatnonzero(back):
            self.problems.add(
                self.path,
                f"{_stamp(made.micro[i + 1])} in the {PERIOD_NAMES[int(made.period[i + 1])]}",
                "frames in the order of time",
                f"The frame before has {_stamp(made.micro[i])} in the "
                f"{PERIOD_NAMES[int(made.period[i])]}; sort the file, or correct the time.",
                int(rows[i + 1]),
                "timestamp",
            )
        for i in np.flatnonzero((np.diff(made.frame_id) <= 0) & ~back):
            self.problems.add(
                self.path,
                int(made.frame_id[i + 1]),
                "frame ids that rise",
                f"The frame before has {made.frame_id[i]}; remove the copied frame, or sort the file.",
                int(rows[i + 1]),
                "frame_id",
            )


def _stamp(micro: int) -> str:
    return (_EPOCH + timedelta(microseconds=int(micro))).isoformat().replace("+00:00", "Z")


def _no_constant(name: str) -> float:
    raise ValueError(name)
