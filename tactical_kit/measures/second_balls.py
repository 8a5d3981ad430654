"""First and second balls: who touches a long ball first, and who then has it."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match, Tracking
from tactical_kit.match.runs import runs_of
from tactical_kit.measures.holder import ball_holder

__all__ = ["CONTACT_COLUMNS", "contacts_after"]

CONTACT_COLUMNS: dict[str, str] = {
    "first_team": "str",  # side that touched it first, "" nobody
    "first_player": "str",
    "second_team": "str",  # side that then had it under control, "" nobody
    "second_player": "str",
    "second_s": "float64",  # when, seconds from the start of the period; NaN nobody
}
_CONTROL = ("carry", "recovery", "interception", "claim", "take-on", "shot", "pass")
_TOUCH = (*_CONTROL, "duel", "touch", "clearance", "block", "tackle", "save")
_STOPS = ("out", "foul", "offside", "period-end", "period-start")


def contacts_after(
    match: Match, passes: pd.DataFrame, *, within_s: float = 10.0, control_s: float = 0.5
) -> pd.DataFrame:
    """Tell who touched each of N passes first, and who then had the ball under control.

    Parameters
    ----------
    match : Match
        With events, or with tracking alone.
    passes : DataFrame
        Rows of `pass_table`.
    within_s : float, default 10
        The ball is under control at most this long after the first contact, s.
    control_s : float, default 0.5
        Tracking alone: it is under control when the same player has been on it for at least this long, s.

    Returns
    -------
    DataFrame
        One row a pass, index of `passes`, `CONTACT_COLUMNS`.

    Notes
    -----
    From events the first contact is the receiver's, or the next touch of anybody if the pass did not arrive; control
    begins with the first carry, recovery, interception, claim, take-on, shot or pass with the foot after it.
    Headers, duels, clearances, blocks and loose touches are contacts without control; a header that reaches a
    team-mate gives him the ball.  A stop of play (out, foul, offside) before that leaves "".  From
    tracking alone contacts too short to see are missed.
    Source: a second ball is a loose ball after a contest that follows a long ball, as in Sunjic et al. 2025, IJPAS
    25(5):881-899 (metres and seconds not seen there: the kit's own).
    """
    rows = {name: np.full(len(passes), "", dtype=object) for name in CONTACT_COLUMNS if name != "second_s"}
    second_s = np.full(len(passes), np.nan)
    if match.events is not None:
        _from_events(match.events, passes, within_s, rows, second_s)
    else:
        _from_tracking(match, match.need_tracking("The second ball"), passes, within_s, control_s, rows, second_s)
    return pd.DataFrame({**rows, "second_s": second_s}, index=passes.index).astype(CONTACT_COLUMNS)


def _from_events(
    events: pd.DataFrame,
    passes: pd.DataFrame,
    within_s: float,
    rows: dict[str, NDArray[np.object_]],
    second_s: NDArray[np.float64],
) -> None:
    columns = ("kind", "detail", "body_part", "team", "player", "receiver")
    kind, detail, body, team, player, receiver = (events[c].to_numpy(object) for c in columns)
    success = events["success"].astype("boolean").fillna(False).to_numpy(bool)
    at, end, period = (events[c].to_numpy() for c in ("time_s", "end_s", "period"))
    key = period * 1e5 + at
    for i, p in enumerate(passes.itertuples()):
        struck = int(np.searchsorted(key, int(p.period) * 1e5 + float(p.time_s) - 1e-6))
        while struck < len(events) and not (kind[struck] == "pass" and player[struck] == p.player):
            struck += 1
        contact_s = float(p.end_s) if np.isfinite(float(p.end_s)) else float(p.time_s)
        if p.complete and p.receiver:
            rows["first_team"][i], rows["first_player"][i] = p.team, p.receiver
        for k in range(struck + 1, len(events)):
            if period[k] != p.period or at[k] > contact_s + within_s or kind[k] in _STOPS:
                break
            if kind[k] not in _TOUCH or team[k] == "":
                continue
            if rows["first_team"][i] == "":
                rows["first_team"][i], rows["first_player"][i] = team[k], player[k]
            header = kind[k] == "pass" and (detail[k] == "header" or body[k] == "head")
            if header and not success[k]:
                continue
            if kind[k] in _CONTROL:
                passed_on = header and receiver[k] != ""
                rows["second_team"][i] = team[k]
                rows["second_player"][i] = receiver[k] if passed_on else player[k]
                second_s[i] = end[k] if passed_on and np.isfinite(end[k]) else at[k]
                break


def _from_tracking(
    match: Match,
    tracking: Tracking,
    passes: pd.DataFrame,
    within_s: float,
    control_s: float,
    rows: dict[str, NDArray[np.object_]],
    second_s: NDArray[np.float64],
) -> None:
    column = ball_holder(match).column
    ids = np.array([t.team_id for t in match.teams], dtype=object)[tracking.team_index]
    names = np.array(tracking.players, dtype=object)
    # Frames in which the ball has been with the same man for long enough.
    least = max(1, round(control_s * tracking.rate_hz))
    held = np.concatenate(
        [runs_of(column == p, tracking.segments, least) for p in np.unique(column[column >= 0])]
        or [np.empty((0, 2), np.int64)]
    )
    held = held[np.argsort(held[:, 0], kind="stable")]
    dead = np.concatenate([[0], np.cumsum(~tracking.alive)])
    for i, p in enumerate(passes.itertuples()):
        first = int(p.end_frame)
        if first < 0 or column[first] < 0:
            continue
        rows["first_team"][i], rows["first_player"][i] = ids[column[first]], names[column[first]]
        k = int(np.searchsorted(held[:, 1], first, side="right"))
        if k == len(held):
            continue
        start = max(int(held[k, 0]), first)
        late = tracking.time_s[start] > tracking.time_s[first] + within_s
        if late or tracking.period[start] != tracking.period[first] or dead[start] != dead[first]:
            continue
        man = column[start]
        rows["second_team"][i], rows["second_player"][i], second_s[i] = ids[man], names[man], tracking.time_s[start]
