"""The lists of moments that an explorer offers, and one line of words for each moment."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import finder_names, get_finder
from tactical_kit.match import Match
from tactical_kit.moments import Moments

__all__ = ["list_names", "moment_words", "tag_moments"]

TAG = "tag"
_TAG_WORDS = ("tag", "label", "what", "name", "phase", "kind", "note")
# Columns of the known finders that say most about a moment, in the order of telling.
_TELLING = ("phase", "tag", "passes", "outcome", "detail")


def list_names(match: Match) -> list[str]:
    """Return the names of the lists that the data of a match allow: every finder that can run, and the tags."""
    first = [n for n in ("possession", "phase", "shot") if n in finder_names()]
    names = [n for n in [*first, *(n for n in finder_names() if n not in first)] if not get_finder(n).missing(match)]
    return [*names, TAG] if match.tags is not None and len(match.tags) else names


def tag_moments(match: Match, length_s: float = 10.0) -> Moments:
    """Return the analyst's own tags as Moments.

    Parameters
    ----------
    match : Match
        With tags: a table with `period` and `time_s` (or `start_s`), if it likes `end_s`, `team`, `player` and
        a word (`tag`, `label`, `what`, `name`, `phase`, `kind` or `note`).
    length_s : float, default 10
        Length of a tag without an end, s.

    Raises
    ------
    TacticalKitError
        No column that tells when.
    """
    extras = {TAG: "str"}
    params = {"length_s": length_s}
    tags = match.tags
    if tags is None or not len(tags):
        return Moments.build(TAG, [], extras, params, match.match_id)
    when = next((c for c in ("start_s", "time_s") if c in tags), None)
    if when is None or "period" not in tags:
        raise TacticalKitError(
            f"the tags have the columns {', '.join(map(str, tags.columns))}; "
            "expected 'period' and 'time_s' or 'start_s'."
        )
    start = pd.to_numeric(tags[when], errors="coerce").to_numpy(float)
    end = (
        pd.to_numeric(tags["end_s"], errors="coerce").to_numpy(float) if "end_s" in tags else np.full(len(tags), np.nan)
    )
    word = next((c for c in _TAG_WORDS if c in tags), None)
    teams = tags["team"].astype(object).where(tags["team"].notna(), "") if "team" in tags else [""] * len(tags)
    players = tags["player"].astype(object).where(tags["player"].notna(), "") if "player" in tags else [""] * len(tags)
    table = pd.DataFrame(
        {
            "period": tags["period"].to_numpy(),
            "start_s": start,
            "end_s": np.where(end >= start, end, start + length_s),
            "team": [_team_id(match, str(t)) for t in teams],
            "players": [(str(p),) if p else () for p in players],
            TAG: tags[word].astype(object).where(tags[word].notna(), "").astype(str) if word else "tag",
        }
    )
    return Moments.build(TAG, table[np.isfinite(start)], extras, params, match.match_id)


def moment_words(match: Match, row: pd.Series, side: bool = True) -> str:
    """Return one line for a moment: clock, side, what it is, how long.

    As "63:12 · Alder Town · final third · 14 s"; without the side if `side` is False.
    """
    start = match.clock.label(int(row["period"]), float(row["start_s"]))
    who = next((t.short_name for t in match.teams if t.team_id == row["team"]), "") if side else ""
    told = []
    for name in _TELLING:
        value = row.get(name)
        if value is None or value == "" or (isinstance(value, float) and np.isnan(value)):
            continue
        if name == "passes":
            told.append(f"{int(value)} pass{'es' if int(value) != 1 else ''}")
        else:
            told.append(str(value))
    if row["finder"] == "shot":
        names = [match.players[p].name for p in row["players"] if p in match.players]
        told = [*names, *told]
    length = float(row["end_s"]) - float(row["start_s"])
    return " · ".join(part for part in (start, who, ", ".join(told), f"{length:.0f} s") if part)


def _team_id(match: Match, text: str) -> str:
    if not text:
        return ""
    try:
        return match.team(text).team_id
    except TacticalKitError:
        return ""
