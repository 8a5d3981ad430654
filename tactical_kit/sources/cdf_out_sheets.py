"""meta.json and match.json of the Common Data Format, made from a match."""

from __future__ import annotations

from typing import Any

from tactical_kit.match import Team
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_out import CDF_VERSION, REFEREE, UNKNOWN, Outgoing, safe

__all__ = ["match_sheet", "meta"]


def meta(out: Outgoing) -> dict[str, Any]:
    """Return the object of meta.json."""
    match = out.match
    periods, whistles = [], []
    for p in match.periods:
        word = words.PERIOD_TO[p.number]
        start, end = out.at(p.number, 0.0), out.at(p.number, p.duration_s)
        left, right = (match.home, match.away) if p.home_attacks == 1 else (match.away, match.home)
        entry: dict[str, Any] = {"period": word, "play_direction": "left_right", "start_time": start, "end_time": end}
        frames = match.tracking.frames_of(p.number) if match.tracking is not None else slice(0, 0)
        if frames.stop > frames.start:
            entry |= {"frame_id_start": frames.start, "frame_id_end": frames.stop - 1}
        periods.append({**entry, "left_team_id": safe(left.team_id), "right_team_id": safe(right.team_id)})
        whistles.append({"type": word, "sub_type": "start", "time": start})
        whistles.append({"type": word, "sub_type": "end", "time": end})
    source = out.source()
    tracking = None
    if match.tracking is not None:
        fps = max(1, round(match.tracking.rate_hz))
        if fps != match.tracking.rate_hz:
            out.notes.add(
                "meta.json",
                f"{match.tracking.rate_hz:g} frames a second",
                "a whole number",
                f"{fps} was written; the times of the frames are exact.",
                kind="warning",
            )
        tracking = {**source, "fps": fps, "collection_timing": "post_match"}
    return {
        "competition": {"id": UNKNOWN},
        "season": {"id": UNKNOWN},
        "match": {
            "id": match.match_id,
            "kickoff_time": out.at(match.periods[0].number, 0.0),
            "periods": periods,
            "whistles": whistles,
        },
        "teams": {"home": _meta_team(out, match.home), "away": _meta_team(out, match.away)},
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


def _meta_team(out: Outgoing, team: Team) -> dict[str, Any]:
    bare = sum(p.shirt is None for p in team.players)
    if bare:
        out.count("player without a shirt number", "a number", "0 was written.", bare)
    return {"id": safe(team.team_id), "name": team.name, "players": [out.player(p) for p in team.players]}


def match_sheet(out: Outgoing) -> dict[str, Any]:
    """Return the object of match.json."""
    match = out.match
    goals, results, shootout = _goals(out)
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
        out.notes.add(
            "match.json",
            f"a shoot-out at {shootout[0]}-{shootout[1]}",
            "a shoot-out with a winner",
            "match.json is silent on it; meta.json and the events hold it.",
            kind="warning",
        )
    if decided:
        result["shootout"] = _score(shootout)
    ahead = home - away or (shootout[0] - shootout[1] if decided else 0)
    if ahead:
        result["final"]["winning_team_id"] = safe((match.home if ahead > 0 else match.away).team_id)
    played_ids = set(match.stints["player"])
    return {
        "match": {
            "id": match.match_id,
            "status": {"is_neutral": False, "has_extratime": extra, "has_shootout": decided},
            "result": result,
        },
        "teams": {
            "home": _sheet_team(out, match.home, played_ids),
            "away": _sheet_team(out, match.away, played_ids),
        },
        "officials": [{"id": REFEREE, "type": "main_referee"}],
        "events": {"goals": goals, "substitutions": _substitutions(out), "cards": _cards(out)},
        "meta": {"vendor": out.source()["name"].replace(" ", "_").lower()},
    }


def _sheet_team(out: Outgoing, team: Team, played: set[str]) -> dict[str, Any]:
    players = []
    for player in team.players:
        entry = out.player(player)
        entry["short_name"] = player.name
        entry["has_played"] = player.player_id in played
        position = words.POSITION_TO.get(player.position, player.position)
        group = next((g for g, labels in words.GROUPS.items() if position in labels), None)
        if group is not None:
            entry |= {"position_group": group, "position": position}
        elif position:
            out.count(f"position {position!r}", "a position that the standard lists")
        players.append(entry)
    return {"id": safe(team.team_id), "short_name": team.short_name, "players": players}


def _goals(out: Outgoing) -> tuple[list[dict[str, Any]], dict[int, tuple[int, int]], tuple[int, int]]:
    events = out.match.events
    assert events is not None
    shots = events[(events["kind"] == "shot") & ((events["outcome"] == "goal") | (events["detail"] == "own-goal"))]
    by_id = events.drop_duplicates("event_id").set_index("event_id")
    score, shootout = [0, 0], [0, 0]
    goals: list[dict[str, Any]] = []
    results: dict[int, tuple[int, int]] = {}
    for period in out.match.periods:
        for shot in shots[shots["period"] == period.number].itertuples():
            if shot.team == "":
                continue
            own = shot.detail == "own-goal"
            side = out.match.team_index(shot.team) ^ own
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
                    "time": out.at(period.number, shot.time_s),
                    "period": words.PERIOD_TO[period.number],
                    "team_id": safe(out.match.teams[side].team_id),
                    "player_id": shot.player,
                    "assist_id": assist,
                    "is_own_goal": own,
                    "is_penalty": shot.set_play == "penalty",
                    "score": _score((score[0], score[1])),
                }
            )
        results[period.number] = (score[0], score[1])
    return goals, results, (shootout[0], shootout[1])


def _substitutions(out: Outgoing) -> list[dict[str, Any]]:
    assert out.match.events is not None
    made = []
    for row in out.match.events[out.match.events["kind"] == "substitution"].itertuples():
        if row.period == 5:
            out.count("substitution in the shoot-out", "periods that match.json knows for substitutions")
            continue
        when = out.at(row.period, row.time_s)
        team = row.team or out.side_of.get(row.player, "")
        made.append(
            {
                "team_id": safe(team),
                "in_time": when,
                "period": words.PERIOD_TO[row.period],
                "in_player_id": row.receiver,
                "out_time": when,
                "out_player_id": row.player,
            }
        )
    return made


def _cards(out: Outgoing) -> list[dict[str, Any]]:
    assert out.match.events is not None
    made = []
    for row in out.match.events[out.match.events["kind"] == "card"].itertuples():
        if row.detail not in words.CARD_TO:
            out.count(f"card {row.detail!r}", "yellow, second-yellow or red")
            continue
        made.append(
            {
                "team_id": safe(row.team or out.side_of.get(row.player, "")),
                "time": out.at(row.period, row.time_s),
                "period": words.PERIOD_TO[row.period],
                "player_id": row.player,
                "type": words.CARD_TO[row.detail],
            }
        )
    return made


def _score(score: tuple[int, int]) -> dict[str, int]:
    return {"home": score[0], "away": score[1]}
