"""Checks of the exercises in the notebook "Reading the charts": each works out the right answer by itself.

A check takes what the learner found and the result it was found in.  It never shows the right answer.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tactical_kit.match import Match
from tactical_kit.measures.pass_network import PassNetwork
from tactical_kit.measures.pressure import PressureMap
from tactical_kit.measures.progression import ProgressionZones
from tactical_kit.teaching import Verdict, check_function, check_members, check_number, untouched

__all__ = ["check_carry_share", "check_closest_pair", "check_pressure_share", "check_thin_zones"]


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


def _id(match: Match, name: object) -> str:
    players = match.players
    if name in players:
        return str(name)
    return next((p.player_id for p in players.values() if p.name == name), str(name))
