"""Plain English for the columns and words of match tables: what a draft recognises.

A word that may mean two things stands in `TWO_MEANINGS` and is asked about, never settled here.
Source: everyday English of the game; common practice, no source.
"""

from __future__ import annotations

import re

__all__ = [
    "EVENT_HEADERS",
    "KIND_WORDS",
    "OUTCOME_WORDS",
    "PERIOD_WORDS",
    "TRACKING_HEADERS",
    "TWO_MEANINGS",
    "YES_NO",
    "plain",
]


def plain(text: str) -> str:
    """Bring a header or word to its plain form: lower case, single blanks, no unit in brackets.

    >>> plain("startX"), plain("End_X (m)"), plain("  Mins. ")
    ('start x', 'end x', 'mins')
    """
    text = re.sub(r"[(\[].*?[)\]]", " ", text)
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    text = re.sub(r"[^\w]+|_", " ", text)
    return re.sub(r"\s+", " ", text).strip().lower()


def _xy(axis: str) -> tuple[str, ...]:
    return (
        axis, f"start {axis}", f"{axis} start", f"from {axis}", f"{axis} from", f"{axis}1", f"{axis} 1",
            f"pos {axis}",
        f"{axis} pos", f"position {axis}", f"{axis} position", f"{axis} coordinate", f"coordinate {axis}",
        f"{axis} coord",
        f"coord {axis}", f"{axis} m", f"location {axis}", f"{axis} location", f"{axis} origin", f"origin {axis}",
    )  # fmt: skip


def _end(axis: str) -> tuple[str, ...]:
    return (
        f"end {axis}", f"{axis} end", f"to {axis}", f"{axis} to", f"{axis}2", f"{axis} 2", f"target {axis}",
        f"{axis} target",
        f"finish {axis}", f"{axis} finish", f"destination {axis}", f"{axis} destination", f"dest {axis}",
        f"{axis} dest",
        f"end pos {axis}", f"{axis} end pos", f"end {axis} m", f"{axis} end m",
    )  # fmt: skip


EVENT_HEADERS: dict[str, tuple[str, ...]] = {
    "event_id": ("event id", "id", "event no", "event number", "no", "nr", "number", "index", "row"),
    "period": ("period", "half", "period id", "period number", "half number", "period no", "half no"),
    "minute": ("minute", "minutes", "min", "mins", "match minute"),
    "second": ("second", "seconds", "sec", "secs"),
    "time": (
        "time", "clock", "timestamp", "time s", "match time", "game time", "match clock", "game clock", "start time",
        "time start",
        "elapsed", "start", "t", "time ms", "ms", "time sec", "seconds", "second", "sec", "date time", "datetime",
        "when", "frame",
        "frame id", "frame no", "frame number", "utc",
    ),
    "end_time": ("end time", "time end", "end", "stop", "stop time", "finish time", "end s"),
    "duration": ("duration", "lasts", "length", "duration s"),
    "kind": ("event", "event type", "type", "action", "action type", "kind", "type of event", "type of action",
        "event name", "what"),
    "detail": ("detail", "details", "subtype", "sub type", "event detail", "manner", "style"),
    "set_play": ("set play", "set piece", "restart", "dead ball"),
    "team": ("team", "side", "team name", "team id", "club", "acting team", "home away", "home or away", "h a"),
    "player": ("player", "player id", "player name", "from player", "passer", "by", "from", "who", "actor", "name"),
    "receiver": ("receiver", "recipient", "to player", "to", "receiving player", "received by", "receiver id",
        "receiver name", "target player"),
    "success": ("success", "successful", "completed", "accurate", "succeeded"),
    "outcome": ("outcome", "result", "ended"),
    "x": _xy("x"), "y": _xy("y"), "end_x": _end("x"), "end_y": _end("y"),
    "body_part": ("body part", "bodypart", "foot", "part of body", "with"),
    "related": ("related", "related event", "related id"),
}  # fmt: skip

TRACKING_HEADERS: dict[str, tuple[str, ...]] = {
    "period": EVENT_HEADERS["period"],
    "time": EVENT_HEADERS["time"],
    "player": ("player", "player id", "player name", "who", "name", "object", "object id", "shirt", "shirt number",
        "jersey", "number"),
    "team": EVENT_HEADERS["team"],
    "x": EVENT_HEADERS["x"], "y": EVENT_HEADERS["y"],
    "z": ("z", "height", "z m", "pos z", "z pos"),
    "ball_x": ("ball x", "x ball", "ball pos x"), "ball_y": ("ball y", "y ball", "ball pos y"),
    "ball_z": ("ball z", "z ball", "ball height", "ball pos z"),
    "alive": ("alive", "in play", "ball in play", "live", "play", "ball alive", "ball live"),
    "owner": ("owner", "possession", "ball owner", "in possession", "team in possession", "ball possession"),
}  # fmt: skip

KIND_WORDS: dict[str, tuple[str, ...]] = {
    "pass": ("pass", "passes", "passing", "short pass", "simple pass"),
    "pass, cross": ("cross", "crosses"),
    "pass, long": ("long pass", "long ball"),
    "pass, through": ("through ball", "through pass"),
    "pass, cut-back": ("cut back", "cutback"),
    "pass, header": ("headed pass",),
    "pass, kick-off": ("kick off", "kickoff"),
    "pass, goal-kick": ("goal kick", "goalkick"),
    "pass, throw-in": ("throw in", "throwin", "throw"),
    "pass, corner": ("corner", "corner kick"),
    "carry": ("carry", "run with ball", "run with the ball", "carries"),
    "shot": ("shot", "shots", "attempt", "attempt on goal", "shot at goal"),
    "shot, goal": ("goal",),
    "shot, saved": ("shot saved", "shot on target"),
    "shot, off-target": ("shot off target", "shot wide", "miss"),
    "shot, blocked": ("shot blocked", "blocked shot"),
    "shot, penalty": ("penalty", "penalty kick"),
    "shot, own-goal": ("own goal",),
    "take-on": ("take on", "takeon", "one on one"),
    "tackle": ("tackle", "tackles"),
    "interception": ("interception", "intercept", "interceptions"),
    "recovery": ("recovery", "ball recovery", "loose ball won"),
    "clearance": ("clearance", "clear"),
    "block": ("block",),
    "duel": ("aerial duel", "aerial", "header duel", "duel"),
    "save": ("save", "keeper save"),
    "claim": ("claim", "catch", "keeper claim"),
    "touch": ("touch", "bad touch", "poor touch", "deflection"),
    "foul": ("foul", "foul committed"),
    "offside": ("offside",),
    "out": ("out", "ball out", "out of play"),
    "card, yellow": ("yellow card", "yellow", "booking"),
    "card, second-yellow": ("second yellow", "second yellow card"),
    "card, red": ("red card", "red", "sending off"),
    "substitution": ("substitution", "sub", "change", "substitute"),
    "period-start": ("period start", "half start", "start of half", "start of period"),
    "period-end": ("period end", "half end", "end of half", "end of period", "half time", "full time"),
}  # fmt: skip

TWO_MEANINGS: dict[str, str] = {
    "dribble": "a carry, or a take-on against an opponent",
    "free kick": "a pass or a shot from a free kick, or the foul before it",
    "header": "a pass, a shot, a clearance or an aerial duel",
    "loss": "a touch, a failed pass or a lost duel",
    "turnover": "a touch, a failed pass or a lost duel",
    "challenge": "a tackle or a duel",
    "ball won": "a tackle, an interception or a recovery",
    "foul won": "a foul, told from the side of the player who was fouled: the kit's player is the offender",
    "own ball": "a pass or a carry",
}

OUTCOME_WORDS: dict[str, tuple[str, ...]] = {
    "complete": ("complete", "completed"),
    "intercepted": ("intercepted", "cut out"),
    "out": ("out", "out of play"),
    "offside": ("offside",),
    "blocked": ("blocked",),
    "goal": ("goal", "scored"),
    "saved": ("saved", "stopped", "save"),
    "off-target": ("off target", "wide", "over", "missed", "miss"),
    "woodwork": ("woodwork", "post", "bar", "crossbar"),
    "won": ("won",),
    "lost": ("lost",),
}

YES_NO: dict[str, tuple[str, ...]] = {
    "yes": ("yes", "y", "true", "1", "success", "successful", "accurate", "ok"),
    "no": ("no", "n", "false", "0", "fail", "failed", "failure", "unsuccessful", "inaccurate", "incomplete"),
}

PERIOD_WORDS: dict[str, tuple[str, ...]] = {
    "1": ("1", "1 0", "1st", "first", "1st half", "first half", "1h", "h1", "half 1", "p1", "period 1"),
    "2": ("2", "2 0", "2nd", "second", "2nd half", "second half", "2h", "h2", "half 2", "p2", "period 2"),
    "3": ("3", "3 0", "first half of extra time", "et1", "extra time 1", "1st extra time"),
    "4": ("4", "4 0", "second half of extra time", "et2", "extra time 2", "2nd extra time"),
    "5": ("5", "5 0", "shoot out", "shootout", "penalties"),
}  # fmt: skip
