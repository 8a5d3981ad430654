"""Writing a match in the Common Data Format 0.3.2; see `tactical_kit.sources.cdf` for what it holds."""

from __future__ import annotations

import json
import re
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import INVENTED_LABEL, Match, Player, Team, Tracking
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.atomic import new_folder
from tactical_kit.sources.problems import Problems

__all__ = ["CDF_VERSION", "EPOCH", "FILES", "utc_text", "write_cdf"]

CDF_VERSION = "0.3.2"
EPOCH = date(2000, 1, 1)  # stands for an unknown day
FILES = ("meta.json", "match.json", "events.jsonl", "tracking.jsonl")
REFEREE = "referee"
UNKNOWN = "unknown"
_KICK_OFF = time(15, 0)
_BREAK_S = {2: 900.0, 3: 300.0, 4: 60.0, 5: 300.0}  # before the period, where its start is not known
_X_MAX, _Y_MAX = 65.0, 42.5  # the validator's limits
_PLAIN = re.compile(r"[a-zA-Z][a-zA-Z0-9_]*")
_SNAKE = re.compile(r"[a-z][a-z0-9_]*")


def write_cdf(
    match: Match,
    folder: str | Path,
    problems: Problems | None = None,
    progress: Callable[[float], None] | None = None,
) -> Path:
    """Write a match as meta.json, match.json, events.jsonl and tracking.jsonl of CDF 0.3.2.

    Parameters
    ----------
    match : Match
        The match.  Without events neither events.jsonl nor match.json is written (the latter demands a
        result), without tracking no tracking.jsonl.
    folder : str or Path
        The folder to make; an earlier CDF folder is replaced, one with other files is refused.
    problems : Problems, optional
        Takes what had to be left out or changed, as warnings.  Without it they are given as one Python warning.
    progress : callable, optional
        Called now and then with the share done, 0 to 1.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    TacticalKitError
        The folder holds other things, or the periods overlap in time.
    """
    folder = Path(folder)
    notes = Problems() if problems is None else problems
    writer = _Writer(match, notes)
    with new_folder(folder, _why_not) as part:
        _write_json(part / "meta.json", writer.meta())
        if match.events is not None:
            with (part / "events.jsonl").open("w", encoding="utf-8", newline="\n") as file:
                for event in writer.events():
                    file.write(_compact(event) + "\n")
            _write_json(part / "match.json", writer.match_sheet())
        else:
            notes.add(
                "match.json",
                "a match without events",
                "events, for the result that match.json demands",
                "It was not written; short names and positions are not in the other files.",
                kind="warning",
            )
        if match.tracking is not None:
            with (part / "tracking.jsonl").open("w", encoding="utf-8", newline="\n") as file:
                for i, line in enumerate(writer.frames(match.tracking)):
                    file.write(line)
                    if progress is not None and i % 5000 == 0:
                        progress(i / max(len(match.tracking), 1))
    if progress is not None:
        progress(1.0)
    writer.report()
    if problems is None and notes.warnings:
        warnings.warn("\n".join(notes.lines()), stacklevel=2)
    return folder


def utc_text(moment: datetime) -> str:
    """Return an RFC 3339 text in UTC, with only the decimals it needs.

    >>> utc_text(datetime(2026, 3, 1, 14, 0, 0, 40_000, tzinfo=UTC))
    '2026-03-01T14:00:00.040Z'
    """
    text = moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
    micro = moment.microsecond
    if not micro:
        return text + "Z"
    return f"{text}.{micro // 1000:03d}Z" if micro % 1000 == 0 else f"{text}.{micro:06d}Z"


class _Writer:
    """One match on its way out: times, frame of reference and ids settled once."""

    def __init__(self, match: Match, notes: Problems) -> None:
        self.match, self.notes = match, notes
        self.left_out: Counter[str] = Counter()
        self.moved: Counter[str] = Counter()
        self.starts = self._starts()
        self.sign = {p.number: p.home_attacks for p in match.periods}
        self.side_of = {p.player_id: t.team_id for t in match.teams for p in t.players}
        self.last = match.periods[-1].number

    # -- time -----------------------------------------------------------------------------------------

    def _starts(self) -> dict[int, datetime]:
        periods = self.match.periods
        known = [i for i, p in enumerate(periods) if p.start_utc is not None]
        starts: list[datetime | None] = [_as_utc(p.start_utc) for p in periods]
        if not known:
            day = self.match.day or EPOCH
            kick_off = starts[0] = datetime.combine(day, _KICK_OFF, UTC)
            met = f"no time of kick-off{'' if self.match.day else ' and no day'}"
            self.notes.add(
                "meta.json", met, "times in UTC",
                f"{utc_text(kick_off)} was written as the kick-off, with breaks of the usual length.", kind="warning",
            )  # fmt: skip
            known = [0]
        for i in range(known[0] - 1, -1, -1):
            later = starts[i + 1]
            assert later is not None
            starts[i] = later - timedelta(seconds=periods[i].duration_s + _BREAK_S[periods[i + 1].number])
        for i in range(known[0] + 1, len(periods)):
            before = starts[i - 1]
            assert before is not None
            end = before + timedelta(seconds=periods[i - 1].duration_s)
            start = starts[i] or end + timedelta(seconds=_BREAK_S[periods[i].number])
            if start < end:
                raise TacticalKitError(
                    f"the {periods[i].name} starts at {utc_text(start)}, before the {periods[i - 1].name} ends at "
                    f"{utc_text(end)}. Correct start_utc or duration_s of the periods."
                )
            starts[i] = start
        return {p.number: s for p, s in zip(periods, starts) if s is not None}

    def at(self, period: int, time_s: float) -> str:
        """UTC text of a moment of a period."""
        return utc_text(self.starts[period] + timedelta(microseconds=round(time_s * 1e6)))

    # -- meta.json ------------------------------------------------------------------------------------

    def meta(self) -> dict[str, Any]:
        match = self.match
        periods, whistles = [], []
        for p in match.periods:
            word = words.PERIOD_TO[p.number]
            start, end = self.at(p.number, 0.0), self.at(p.number, p.duration_s)
            left, right = (match.home, match.away) if p.home_attacks == 1 else (match.away, match.home)
            entry: dict[str, Any] = {"period": word, "play_direction": "left_right", "start_time": start,
                                     "end_time": end}  # fmt: skip
            frames = match.tracking.frames_of(p.number) if match.tracking is not None else slice(0, 0)
            if frames.stop > frames.start:
                entry |= {"frame_id_start": frames.start, "frame_id_end": frames.stop - 1}
            periods.append({**entry, "left_team_id": _safe(left.team_id), "right_team_id": _safe(right.team_id)})
            whistles.append({"type": word, "sub_type": "start", "time": start})
            whistles.append({"type": word, "sub_type": "end", "time": end})
        source = self._source()
        tracking = None
        if match.tracking is not None:
            fps = max(1, round(match.tracking.rate_hz))
            if fps != match.tracking.rate_hz:
                self.notes.add(
                    "meta.json", f"{match.tracking.rate_hz:g} frames a second", "a whole number",
                    f"{fps} was written; the times of the frames are exact.", kind="warning",
                )  # fmt: skip
            tracking = {**source, "fps": fps, "collection_timing": "post_match"}
        return {
            "competition": {"id": UNKNOWN},
            "season": {"id": UNKNOWN},
            "match": {
                "id": match.match_id,
                "kickoff_time": self.at(match.periods[0].number, 0.0),
                "periods": periods,
                "whistles": whistles,
            },
            "teams": {"home": self._meta_team(match.home), "away": self._meta_team(match.away)},
            "venue": {
                "id": UNKNOWN,
                "pitch_length": float(match.pitch.length_m),
                "pitch_width": float(match.pitch.width_m),
            },
            "officials": [{"id": REFEREE, "type": "main_referee"}],
            "meta": {
                "video": None,
                "event": {**source, "collection_timing": "post_match"} if match.events is not None else None,
                "tracking": tracking,
                "landmarks": None,
                "ball": None,
                "meta": source,
                "cdf": {"version": CDF_VERSION},
            },
        }

    def _source(self) -> dict[str, str]:
        label = self.match.label or UNKNOWN
        if self.match.invented and INVENTED_LABEL not in label:
            label = f"{label} ({INVENTED_LABEL})"
        return {"version": UNKNOWN, "name": label}

    def _meta_team(self, team: Team) -> dict[str, Any]:
        return {"id": _safe(team.team_id), "name": team.name, "players": [self._player(p) for p in team.players]}

    def _player(self, player: Player) -> dict[str, Any]:
        if player.shirt is None:
            self.moved["a player without a shirt number: 0 was written"] += 1
        first, _, last = player.name.partition(" ")
        return {
            "id": player.player_id,
            "team_id": _safe(player.team_id),
            "jersey_number": 0 if player.shirt is None else int(player.shirt),
            "is_starter": bool(player.starter),
            "first_name": first if last else "",
            "last_name": last or first,
        }

    # -- match.json -----------------------------------------------------------------------------------

    def match_sheet(self) -> dict[str, Any]:
        match = self.match
        goals, results, shootout = self._goals()
        home, away = results[max((n for n in results if n <= 4), default=1)] if results else (0, 0)
        first = results.get(1, (0, 0))
        result: dict[str, Any] = {
            "final": {"home": home, "away": away, "winning_team_id": None},
            "first_half": _score(first),
            "second_half": _score(results.get(2, first)),
        }
        played = {p.number for p in match.periods}
        extra = bool(played & {3, 4})
        if extra:
            third = results.get(3, results.get(2, first))
            result["first_half_extratime"] = _score(third)
            result["second_half_extratime"] = _score(results.get(4, third))
        decided = 5 in played and shootout[0] != shootout[1]
        if 5 in played and not decided:
            self.notes.add(
                "match.json", f"a shoot-out at {shootout[0]}-{shootout[1]}", "a shoot-out with a winner",
                "match.json is silent on it; meta.json and the events hold it.", kind="warning",
            )  # fmt: skip
        if decided:
            result["shootout"] = _score(shootout)
        ahead = home - away or (shootout[0] - shootout[1] if decided else 0)
        if ahead:
            result["final"]["winning_team_id"] = _safe((match.home if ahead > 0 else match.away).team_id)
        played_ids = set(match.stints["player"])
        return {
            "match": {
                "id": match.match_id,
                "status": {"is_neutral": False, "has_extratime": extra, "has_shootout": decided},
                "result": result,
            },
            "teams": {
                "home": self._sheet_team(match.home, played_ids),
                "away": self._sheet_team(match.away, played_ids),
            },
            "officials": [{"id": REFEREE, "type": "main_referee"}],
            "events": {"goals": goals, "substitutions": self._substitutions(), "cards": self._cards()},
            "meta": {"vendor": self._source()["name"].replace(" ", "_").lower()},
        }

    def _sheet_team(self, team: Team, played: set[str]) -> dict[str, Any]:
        players = []
        for player in team.players:
            entry = self._player(player)
            entry["short_name"] = player.name
            entry["has_played"] = player.player_id in played
            position = words.POSITION_TO.get(player.position, player.position)
            group = next((g for g, labels in words.GROUPS.items() if position in labels), None)
            if group is not None:
                entry |= {"position_group": group, "position": position}
            elif position:
                self.moved[f"position {position!r}, which the standard does not know: left out"] += 1
            players.append(entry)
        return {"id": _safe(team.team_id), "short_name": team.short_name, "players": players}

    def _goals(self) -> tuple[list[dict[str, Any]], dict[int, tuple[int, int]], tuple[int, int]]:
        events = self.match.events
        assert events is not None
        shots = events[(events["kind"] == "shot") & ((events["outcome"] == "goal") | (events["detail"] == "own-goal"))]
        by_id = events.drop_duplicates("event_id").set_index("event_id")
        score, shootout = [0, 0], [0, 0]
        goals: list[dict[str, Any]] = []
        results: dict[int, tuple[int, int]] = {}
        for period in self.match.periods:
            for shot in shots[shots["period"] == period.number].itertuples():
                if shot.team == "":
                    continue
                own = shot.detail == "own-goal"
                side = self.match.team_index(shot.team) ^ own
                (shootout if period.number == 5 else score)[side] += 1
                if period.number == 5:
                    continue
                assist = None
                if shot.related in by_id.index:
                    answered = by_id.loc[shot.related]
                    if answered["kind"] == "pass" and answered["team"] == shot.team and not own:
                        assist = answered["player"] or None
                goals.append(
                    {
                        "time": self.at(period.number, shot.time_s),
                        "period": words.PERIOD_TO[period.number],
                        "team_id": _safe(self.match.teams[side].team_id),
                        "player_id": shot.player,
                        "assist_id": assist,
                        "is_own_goal": own,
                        "is_penalty": shot.set_play == "penalty",
                        "score": _score((score[0], score[1])),
                    }
                )
            results[period.number] = (score[0], score[1])
        return goals, results, (shootout[0], shootout[1])

    def _substitutions(self) -> list[dict[str, Any]]:
        assert self.match.events is not None
        made = []
        for row in self.match.events[self.match.events["kind"] == "substitution"].itertuples():
            if row.period == 5:
                self.left_out["a substitution in the shoot-out, which match.json cannot hold"] += 1
                continue
            when = self.at(row.period, row.time_s)
            team = row.team or self.side_of.get(row.player, "")
            made.append(
                {
                    "team_id": _safe(team),
                    "in_time": when,
                    "period": words.PERIOD_TO[row.period],
                    "in_player_id": row.receiver,
                    "out_time": when,
                    "out_player_id": row.player,
                }
            )
        return made

    def _cards(self) -> list[dict[str, Any]]:
        assert self.match.events is not None
        made = []
        for row in self.match.events[self.match.events["kind"] == "card"].itertuples():
            if row.detail not in words.CARD_TO:
                self.left_out[f"a card {row.detail!r} in match.json"] += 1
                continue
            made.append(
                {
                    "team_id": _safe(row.team or self.side_of.get(row.player, "")),
                    "time": self.at(row.period, row.time_s),
                    "period": words.PERIOD_TO[row.period],
                    "player_id": row.player,
                    "type": words.CARD_TO[row.detail],
                }
            )
        return made

    # -- events.jsonl ---------------------------------------------------------------------------------

    def events(self) -> Iterator[dict[str, Any]]:
        events, tracking = self.match.events, self.match.tracking
        assert events is not None
        frame = end_frame = np.full(len(events), -1, np.int64)
        if tracking is not None and len(tracking):
            frame = tracking.indices_at(events["period"].to_numpy(), events["time_s"].to_numpy(float))
            ends = events["end_s"].to_numpy(float)
            known = np.isfinite(ends)
            end_frame = frame.copy()
            end_frame[:] = -1
            end_frame[known] = tracking.indices_at(events["period"].to_numpy()[known], ends[known])
        for i, row in enumerate(events.itertuples(index=False)):
            yield from self._event(row, int(frame[i]), int(end_frame[i]))

    def _event(self, row: Any, frame: int, end_frame: int) -> Iterator[dict[str, Any]]:
        kind = row.kind
        if kind not in words.KIND_TO and kind not in words.REFEREE_KINDS:
            self.left_out[f"an event of the kind {kind!r}, which the standard has no word for"] += 1
            return
        place = self._place(row, frame, kind)
        decision = kind in ("foul", "offside", "out")
        by_player = kind in words.KIND_TO and row.player != "" and (row.team or self.side_of.get(row.player, "")) != ""
        if kind in words.KIND_TO and not by_player and not decision:
            self.left_out[f"a {kind} without player or team, which the standard demands"] += 1
            return
        if place is None and not by_player:
            place = (0.0, 0.0)  # a number is demanded; the centre spot stands for "no place" in referee events
        if place is None:
            self.left_out[f"a {kind} without a place, which the standard demands"] += 1
            return
        related = [_safe(row.related)] if row.related else []
        if by_player:
            whistle = _safe(row.event_id) + words.WHISTLE
            yield self._record(row, frame, end_frame, place, related + ([whistle] if decision else []), True)
            if decision:
                yield self._whistle(row, frame, place, whistle)
        else:
            yield self._record(row, frame, end_frame, place, related, False)

    def _record(
        self, row: Any, frame: int, end_frame: int, place: tuple[float, float], related: list[str], by_player: bool
    ) -> dict[str, Any]:
        kind = row.kind
        type_, sub_type, outcome, success = self._words(row)
        ball_action = kind in ("pass", "shot")
        end = (row.end_x, row.end_y)
        x_end = y_end = None
        if np.isfinite(end).all():
            sign = self.sign[row.period]
            x_end, y_end = _round(end[0] * sign, 3), _round(end[1] * sign, 3)
        elif ball_action:
            x_end, y_end = place
            self.moved["a pass or shot without an end: its start was written"] += 1
        body = words.BODY_TO.get(row.body_part)
        if body is None and ball_action:
            body = "body"
        received = by_player and row.receiver != ""
        event: dict[str, Any] = {
            "id": _safe(row.event_id),
            "time": self.at(row.period, row.time_s),
            "period": words.PERIOD_TO[row.period],
            "type": type_ if by_player else "referee",
            "sub_type": sub_type,
            "is_successful": success,
            "outcome_type": outcome,
        }
        if by_player:
            event["player_id"] = row.player
            event["team_id"] = _safe(row.team or self.side_of[row.player])
        else:
            event["official_id"] = REFEREE
        receiver_team = self.side_of.get(row.receiver)
        event |= {
            "receiver_id": row.receiver if received else None,
            "receiver_time": self.at(row.period, row.end_s) if received and np.isfinite(row.end_s) else None,
            "receiver_team_id": _safe(receiver_team) if received and receiver_team else None,
            "x": place[0],
            "y": place[1],
            "x_end": x_end,
            "y_end": y_end,
            "body_part": body,
            "related_event_ids": related or None,
        }
        return self._line(event, frame, end_frame)

    def _whistle(self, row: Any, frame: int, place: tuple[float, float], event_id: str) -> dict[str, Any]:
        word = words.KIND_TO[row.kind][1]
        event = {
            "id": event_id,
            "time": self.at(row.period, row.time_s),
            "period": words.PERIOD_TO[row.period],
            "type": "referee",
            "sub_type": word,
            "is_successful": True,
            "outcome_type": word,
            "official_id": REFEREE,
            "receiver_id": None,
            "receiver_time": None,
            "receiver_team_id": None,
            "x": place[0],
            "y": place[1],
            "x_end": None,
            "y_end": None,
            "body_part": None,
            "related_event_ids": [_safe(row.event_id)],
        }
        return self._line(event, frame, -1)

    def _line(self, event: dict[str, Any], frame: int, end_frame: int) -> dict[str, Any]:
        line = {"match": {"id": self.match.match_id}, "meta": {"is_synced": frame >= 0}, "event": event}
        if frame >= 0:
            line["tracking"] = {"frame_id": frame} | ({"frame_id_end": end_frame} if end_frame >= 0 else {})
        return line

    def _words(self, row: Any) -> tuple[str, str | None, str, bool]:
        kind = row.kind
        success = None if row.success is None or row.success is pd.NA else bool(row.success)
        if kind in ("card", "substitution"):
            outcome = words.CARD_TO.get(row.detail, "caution") if kind == "card" else "substitution"
            return "referee", words.REFEREE_KINDS[kind], outcome, True
        if kind in ("period-start", "period-end"):
            last = kind == "period-end" and row.period == self.last
            return "referee", "final_whistle" if last else None, kind.removeprefix("period-"), True
        type_, sub_type = words.KIND_TO[kind]
        if kind in ("pass", "shot"):
            sub_type = words.SET_PLAY_TO.get(row.set_play)
            if sub_type is None and row.detail != "own-goal":
                sub_type = words.DETAIL_TO.get(row.detail)
            elif sub_type is not None and row.detail not in ("", "own-goal"):
                self.left_out["the detail of a pass or shot that is a set play, as there is one sub_type"] += 1
        if kind == "shot" and row.detail == "own-goal":
            return type_, sub_type, "own_goal", True if success is None else success
        if kind in ("pass", "shot", "take-on", "tackle", "duel"):
            outcome = words.OUTCOME_TO.get((kind, row.outcome), "")
            if success is None:
                success = row.outcome in ("complete", "goal", "won")
                outcome = outcome or UNKNOWN
            return type_, sub_type, outcome or ("successful" if success else "unsuccessful"), success
        if kind in ("carry", "touch"):
            good = kind == "carry" if success is None else success
            return type_, sub_type, "successful" if good else "unsuccessful", good
        return type_, sub_type, str(sub_type), True if success is None else success

    def _place(self, row: Any, frame: int, kind: str) -> tuple[float, float] | None:
        x, y = row.x, row.y
        tracking = self.match.tracking
        if not (np.isfinite(x) and np.isfinite(y)):
            if kind not in words.KIND_TO or frame < 0 or tracking is None or row.player not in tracking.players:
                return None
            x, y = (float(v) for v in tracking.xy[frame, tracking.column(row.player)])
            if not np.isfinite(x):
                return None
            self.moved["an event without a place: that of the player in the tracking was written"] += 1
        sign = self.sign[row.period]
        x, y = _round(x * sign, 3), _round(y * sign, 3)
        inside = min(max(x, -_X_MAX), _X_MAX), min(max(y, -_Y_MAX), _Y_MAX)
        if inside != (x, y):
            self.moved[f"a place of an event beyond {_X_MAX:g} x {_Y_MAX:g} m: moved to that limit"] += 1
        return inside

    # -- tracking.jsonl -------------------------------------------------------------------------------

    def frames(self, tracking: Tracking) -> Iterator[str]:
        """Yield the lines of tracking.jsonl; players who are not there are left out of their frame."""
        names = [json.dumps(p, ensure_ascii=False) for p in tracking.players]
        side = np.asarray(tracking.team_index)
        order = [*np.flatnonzero(side == 0).tolist(), *np.flatnonzero(side == 1).tolist()]
        homes = int((side == 0).sum())
        home, away = (json.dumps(_safe(t.team_id), ensure_ascii=False) for t in self.match.teams)
        match_id = json.dumps(self.match.match_id, ensure_ascii=False)
        limits = np.array([_X_MAX, _Y_MAX])
        templates: dict[bytes, str] = {}
        poss = {0: f',"poss_team_id":{home}', 1: f',"poss_team_id":{away}', -1: ',"poss_status":"uncontrolled"'}

        def template(there: NDArray[np.bool_]) -> str:
            listed = [
                f'{{"id":{names[c].replace("%", "%%")},"x":%.2f,"y":%.2f}}' if seen else ""
                for c, seen in zip(order, there)
            ]
            parts = [",".join(p for p in half if p) for half in (listed[:homes], listed[homes:])]
            teams = [t.replace("%", "%%") for t in (home, away)]
            return (
                f'"teams":{{"home":{{"id":{teams[0]},"players":[{parts[0]}]}},'
                f'"away":{{"id":{teams[1]},"players":[{parts[1]}]}}}},"ball":'
            )

        for number, span in tracking.iter_periods():
            head = f',"period":"{words.PERIOD_TO[number]}","match":{{"id":{match_id}}},'
            start, sign = self.starts[number], self.sign[number]
            for block in range(span.start, span.stop, 4096):
                rows = slice(block, min(block + 4096, span.stop))
                xy = np.round(tracking.xy[rows][:, order].astype(float) * sign, 2) + 0.0
                there: NDArray[np.bool_] = np.isfinite(xy).all(axis=2)
                beyond = np.abs(xy) > limits
                ball = np.round(tracking.ball[rows].astype(float) * [sign, sign, 1], 2) + 0.0
                far = np.abs(ball[:, :2]) > limits
                for mask, what in ((beyond, "a place of a player"), (far, "a place of the ball")):
                    if mask.any():
                        key = f"{what} beyond {_X_MAX:g} x {_Y_MAX:g} m: moved to that limit"
                        self.moved[key] += int(mask.any(axis=-1).sum())
                np.clip(xy, -limits, limits, out=xy)
                ball[:, :2] = np.clip(ball[:, :2], -limits, limits)
                lost = ~np.isfinite(ball[:, :2]).all(axis=1)
                if lost.any():
                    self.moved["a frame without the ball: null was written"] += int(lost.sum())
                micro = np.rint(tracking.time_s[rows] * 1e6).astype(np.int64).tolist()
                alive = tracking.alive[rows].tolist()
                owner = [9] * len(alive) if tracking.owner is None else tracking.owner[rows].tolist()
                for i in range(len(alive)):
                    mask_key = there[i].tobytes()
                    if mask_key not in templates:
                        templates[mask_key] = template(there[i])
                    stamp = utc_text(start + timedelta(microseconds=micro[i]))
                    body = templates[mask_key] % tuple(xy[i][there[i]].ravel().tolist())
                    bx, by, bz = ("null" if v != v else f"{v:.2f}" for v in ball[i].tolist())
                    yield (
                        f'{{"frame_id":{block + i},"timestamp":"{stamp}"{head}{body}{{"x":{bx},"y":{by},"z":{bz},'
                        f'"status":{"true" if alive[i] else "false"}{poss.get(owner[i], "")}}}}}\n'
                    )

    # -- what was lost --------------------------------------------------------------------------------

    def report(self) -> None:
        for what, count in self.left_out.items():
            self.notes.add("CDF", f"{count} x {what}", "what the standard can hold", "It was left out.", kind="warning")
        for what, count in self.moved.items():
            self.notes.add("CDF", f"{count} x {what}", "what the standard can hold", "Nothing to do.", kind="warning")


def _as_utc(moment: datetime | None) -> datetime | None:
    if moment is None:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _score(score: tuple[int, int]) -> dict[str, int]:
    return {"home": score[0], "away": score[1]}


def _round(value: float, digits: int) -> float:
    return round(float(value), digits) + 0.0


def _safe(identifier: str) -> str:
    """Return an id as it can stand anywhere: the validator wants plain words in lower case.

    "T1" becomes "id:T1" (the colon tells it apart from a word); the reader takes the "id:" off again.
    """
    plain = _PLAIN.fullmatch(identifier) is not None and _SNAKE.fullmatch(identifier) is None
    return f"id:{identifier}" if plain or identifier.startswith("id:") else identifier


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _write_json(path: Path, value: Any) -> None:
    text = json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)
    path.write_bytes((text + "\n").encode("utf-8"))


def _why_not(folder: Path) -> str:
    others = sorted(p.name for p in folder.iterdir() if p.name not in FILES)
    if others:
        return f"it holds other files ({', '.join(others[:3])}{', …' if len(others) > 3 else ''})"
    if not (folder / "meta.json").is_file():
        return "it is not a folder of the Common Data Format"
    return ""
