"""Checks of the exercises in the teaching notebooks: each works out the right answer by itself.

A check takes what the learner found and the result it was found in.  It never shows the right answer.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.claims import add_to_claim_sheet, run_claim_sheet
from tactical_kit.claims.interval import wilson_interval
from tactical_kit.claims.words import share_word
from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match
from tactical_kit.measures.pass_network import PassNetwork
from tactical_kit.measures.pressure import PressureMap
from tactical_kit.measures.progression import ProgressionZones
from tactical_kit.moments import Moments
from tactical_kit.teaching import Verdict, check_function, check_members, check_number, untouched

__all__ = [
    "check_back_cues", "check_carry_share", "check_closest_pair", "check_enough", "check_half_back", "check_hunt_share",
    "check_lost_share", "check_outnumbered", "check_own_claim", "check_pressure_share", "check_rate",
    "check_thin_zones",
]  # fmt: skip

_BACK = ("back pass", "pass to keeper")


def check_closest_pair(answer: Any, network: PassNetwork, match: Match) -> Verdict:
    """Check the pair with the most passes for each 90 minutes together; ids or names, passer first.

    Parameters
    ----------
    answer : pair
        (passer, receiver).
    network : PassNetwork
        Where to look: the pairs in `links`.
    match : Match
        Knows the names.
    """
    name = "closest pair"
    if untouched(answer):
        return check_members(name, answer, ())
    given = [_id(match, a) for a in ([answer] if isinstance(answer, str) else answer)]
    links = network.links
    best = links[links["per_90"] >= links["per_90"].max() - 1e-9]
    pairs = list(zip(best["player"], best["receiver"], strict=True))
    verdicts = [check_members(name, given, pair, ordered=True) for pair in pairs]
    right = [v for v in verdicts if v.ok]
    if right:
        return right[0]
    most = links[links["passes"] == links["passes"].max()]
    if tuple(given) in list(zip(most["player"], most["receiver"], strict=True)):
        hint = "this pair has the most passes, but had more minutes together than another"
        return Verdict(name, verdicts[0].status, (hint,))
    return verdicts[0]


def check_carry_share(answer: Any, progression: ProgressionZones) -> Verdict:
    """Check the share (0-1) of the ground gained that was gained by carries."""
    zones = progression.zones
    return check_number("share gained by carries", answer, zones["gained_carry_m"].sum() / zones["gained_m"].sum())


def check_thin_zones(answer: Any, pressure: PressureMap, least_s: float = 5.0) -> Verdict:
    """Check the names of the zones in which the ball was held, but for less than `least_s` seconds."""
    zones = pressure.zones
    thin = zones.loc[(zones["seconds"] > 0) & (zones["seconds"] < least_s), "name"]
    verdict = check_members("thin zones", answer, thin)
    never = zones.loc[zones["seconds"] == 0, "name"]
    if not verdict.ok and not untouched(answer) and not isinstance(answer, str) and set(never) & set(map(str, answer)):
        return Verdict(verdict.name, verdict.status, (*verdict.hints, "a zone without a second is empty, not thin"))
    return verdict


def check_pressure_share(function: Any) -> Verdict:
    """Check a function from an array of pressures (%) to the share of the known ones that are 30 % or more."""
    nan = math.nan
    cases = [
        ("two of four", (np.array([10.0, 40.0, 20.0, 80.0]),), 0.5),
        ("exactly 30 % counts as under pressure", (np.array([30.0, 29.9]),), 0.5),
        ("an unknown pressure is neither high nor low", (np.array([nan, 40.0, 20.0]),), 0.5),
        ("nothing is known: the share is unknown, too", (np.array([nan, nan]),), nan),
    ]
    return check_function("share under pressure", function, cases)


def check_outnumbered(answer: Any, build_ups: Moments) -> Verdict:
    """Check the ids of the build-ups with at most one man more in the first lines."""
    table = build_ups.table
    few = table.loc[table["spare"] <= 1, "moment_id"]
    answer = _ids(answer)
    verdict = check_members("build-ups with at most one man more", answer, few)
    strict = set(table.loc[table["spare"] < 1, "moment_id"])
    if not verdict.ok and _given(answer) == strict and strict:
        return Verdict(verdict.name, verdict.status, (*verdict.hints, "exactly one man more is at most one, too"))
    return verdict


def check_lost_share(answer: Any, build_ups: Moments) -> Verdict:
    """Check which share (0-1) of the build-ups that the side did not get out with ended with the ball lost in play."""
    stuck = build_ups["outcome"] != "progressed"
    lost = (build_ups["outcome"] == "lost").sum()
    verdict = check_number("share lost in play", answer, lost / stuck.sum() if stuck.any() else math.nan)
    return _of_what(verdict, answer, lost / len(build_ups), "of which build-ups? Those they got out with do not count")


def check_back_cues(answer: Any, presses: Moments) -> Verdict:
    """Check the ids of the presses that were sprung by a pass back or to the keeper."""
    table, answer = presses.table, _ids(answer)
    verdict = check_members("presses on a ball back", answer, table.loc[table["cue"].isin(_BACK), "moment_id"])
    one = [set(table.loc[table["cue"] == cue, "moment_id"]) for cue in _BACK]
    if not verdict.ok and _given(answer) in [ids for ids in one if ids]:
        return Verdict(verdict.name, verdict.status, (*verdict.hints, "two cues are asked for, this is one of them"))
    return verdict


def check_rate(function: Any) -> Verdict:
    """Check a function from a count and seconds to how often that is in 30 minutes."""
    cases = [
        ("ten in a quarter of an hour", (10, 900.0), 20.0),
        ("ten in an hour", (10, 3600.0), 5.0),
        ("none in ten minutes", (0, 600.0), 0.0),
        ("no time at all: the rate is not known", (3, 0.0), math.nan),
    ]
    return check_function("rate in 30 minutes", function, cases)


def check_hunt_share(answer: Any, losses: Moments) -> Verdict:
    """Check which share (0-1) of the losses that were hunted had the ball back in time."""
    hunted = losses["pressed"].fillna(False).astype(bool)
    back = losses["regained"].astype(bool)
    share = (hunted & back).sum() / hunted.sum() if hunted.any() else math.nan
    verdict = check_number("share of the hunts that had it back", answer, share)
    return _of_what(verdict, answer, back.mean(), "of which losses? Those that nobody hunted do not count")


def check_half_back(answer: Any, losses: Moments) -> Verdict:
    """Check after how many seconds half of the losses had the ball back; one that never had it counts as never."""
    time = losses["regain_s"]
    verdict = check_number("half had it back, s", answer, time.fillna(math.inf).median(), tolerance=0.05)
    return _of_what(verdict, answer, time.median(), "this is the middle of those that had it back at all")


def check_enough(answer: Any, share: float = 0.8, word: str = "usually", step: int = 5) -> Verdict:
    """Check how many instances it takes, in steps, until the interval of a share lies in the range of a word.

    Parameters
    ----------
    answer : int
        The learner's number of instances.
    share : float, default 0.8
        The share, which must give whole counts at every step.
    word : str, default "usually"
        The word for how often.
    step : int, default 5
        Numbers of instances looked at: 5, 10, 15...
    """
    meaning = share_word(word)
    counts = range(step, 10_000, step)
    enough = next(n for n in counts if _inside(wilson_interval(round(share * n), n), meaning.low, meaning.high))
    return check_number(f"instances until “{word}” is supported", answer, enough, tolerance=0)


def check_own_claim(answer: Any, match: Match) -> Verdict:
    """Check a claim of the learner's own: it can be read, has enough instances, and the match bears it.

    Parameters
    ----------
    answer : dict
        Keys of a claim sheet: text, finder, where, and what else is wanted.
    match : Match
        The match it speaks of.
    """
    name = "your own claim"
    if untouched(answer):
        return check_members(name, ..., ())
    if not isinstance(answer, Mapping):
        return Verdict(name, _wrong(name), (f"expected a dict with the keys of a claim, met {type(answer).__name__}",))
    lacking = [key for key in ("text", "finder") if key not in answer]
    if lacking:
        return Verdict(name, _wrong(name), tuple(f"the claim has no {key!r} yet" for key in lacking))
    with tempfile.TemporaryDirectory() as folder:
        sheet = Path(folder) / "own.toml"
        try:
            add_to_claim_sheet(sheet, **{str(key): value for key, value in answer.items()})
            checked = run_claim_sheet(match, sheet)[1]
        except (TacticalKitError, TypeError) as error:
            return Verdict(name, _wrong(name), (str(error),))
    hint = f"it does not hold: {checked.short_verdict}" + (f" ({checked.numbers})" if checked.numbers else "")
    return check_members(name, [checked.holds], [True]) if checked.holds else Verdict(name, _wrong(name), (hint,))


def _inside(interval: Any, low: float, high: float) -> bool:
    return bool(low <= interval.low and interval.high <= high)


def _wrong(name: str) -> str:
    return check_members(name, ["no"], ["yes"]).status


def _ids(answer: Any) -> Any:
    """The ids of moments, of a table of them, or what was given if it is neither."""
    table = answer.table if isinstance(answer, Moments) else answer
    return table["moment_id"] if isinstance(table, pd.DataFrame) and "moment_id" in table else answer


def _given(answer: Any) -> set[str]:
    return {answer} if isinstance(answer, str) else {str(a) for a in answer} if np.iterable(answer) else set()


def _of_what(verdict: Verdict, answer: Any, other: float, words: str) -> Verdict:
    """Add a hint to a wrong number that is another, likely one."""
    if verdict.ok or untouched(answer) or not hasattr(answer, "__float__") or math.isnan(other):
        return verdict
    return (
        Verdict(verdict.name, verdict.status, (*verdict.hints, words))
        if abs(float(answer) - other) <= 0.005
        else verdict
    )


def _id(match: Match, name: object) -> str:
    players = match.players
    if name in players:
        return str(name)
    return next((p.player_id for p in players.values() if p.name == name), str(name))
