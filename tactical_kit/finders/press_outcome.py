"""How presses and traps end: by what becomes of the opponents' possession within some seconds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tactical_kit.finders.context import aftermath
from tactical_kit.match import Match

__all__ = ["with_outcomes"]


def with_outcomes(match: Match, moments: pd.DataFrame, *, after_s: float, gain_m: float) -> pd.DataFrame:
    """Add to presses how each ended, and when the ball was won.

    Parameters
    ----------
    match : Match
        With events or tracking.
    moments : DataFrame
        team (the pressing side), period, start_s (the cue), end_s (the last of them stopped to run), x, y (the ball
        at the cue, attacking frame of `team`; a little off the pitch at most).
    after_s : float
        What happens at most so long after `end_s` is the outcome, s.
    gain_m : float
        The opponents have got out if the ball then comes at least so far nearer to the goal than at the cue, m.

    Returns
    -------
    DataFrame
        The same rows with outcome: "won" (the pressing side has control), "out", "foul", "offside", "goal",
        "period-end"; else, the opponents still having the ball, "beaten" (they got out) or "kept"; "" where no
        possession of the opponents is known.  regain_s: from the cue until the ball was won, NaN if it was not.
        A press ends when the ball is won, and never later than
        the possession it was against.  x, y moved onto the pitch.

    Notes
    -----
    Out and foul say nothing of whose ball it then is.  Source: common practice, no source.
    """
    table = moments.copy()
    theirs = table["team"].map({t.team_id: match.opponent(t.team_id).team_id for t in match.teams})
    start, end = table["start_s"].to_numpy(float), table["end_s"].to_numpy(float)
    spell = aftermath(match, table["period"], start, theirs)
    then = aftermath(match, table["period"], end, theirs, within_s=after_s)
    over = start + spell["kept_s"].to_numpy()
    ended = spell["ended"].replace("lost", "won").to_numpy(object)
    in_time = (ended != "") & (over <= end + after_s + 1e-6)
    high = then["furthest_x"].to_numpy() + table["x"].to_numpy(float)  # their x is -x of the pressing side
    going_on = np.where(high >= gain_m, "beaten", "kept")
    table["outcome"] = np.where(in_time, ended, np.where(np.isfinite(over), going_on, ""))
    won = (table["outcome"] == "won").to_numpy()
    table["regain_s"] = np.where(won, over - start, np.nan)
    table["end_s"] = np.where(won | (in_time & (over < end)), over, end)
    table["x"], table["y"] = match.pitch.onto(table["x"].astype(float), table["y"].astype(float), margin_m=np.inf)
    return table
