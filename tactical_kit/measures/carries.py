"""The carries of a match, one row each: from the events, or from who is on the ball in the tracking."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tactical_kit.match import Match, Tracking, remembered
from tactical_kit.match.runs import runs_of
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.passes import without_idle_events

__all__ = ["CARRY_COLUMNS", "carry_table"]

CARRY_COLUMNS: dict[str, str] = {
    "period": "int8",
    "time_s": "float64",
    "end_s": "float64",
    "team": "str",
    "player": "str",
    "x": "float64",  # attacking frame of the side, m
    "y": "float64",
    "end_x": "float64",
    "end_y": "float64",
    "distance_m": "float64",  # from start to end, straight
    "frame": "int64",  # of `match.tracking`; -1 without
    "end_frame": "int64",
    "estimated": "bool",  # read from the tracking
}


_ROUNDING_M = 1e-5  # places are kept in single precision: a hundredth of a millimetre is no threshold


@remembered
def carry_table(match: Match, *, least_m: float = 3.0, longest_s: float = 10.0) -> pd.DataFrame:
    """List every carry in the attacking frame of the side that has the ball.

    Parameters
    ----------
    match : Match
        With events, or with tracking.  Events that list no carries at all are helped out by the tracking; events
        without carries and passes (a log of shots, say) do not tell who had the ball and count as none.
    least_m : float, default 3
        A carry takes the ball at least this far, m.
    longest_s : float, default 10
        A carry for which the events say no end lasts until the next event, at most this long, s.

    Returns
    -------
    DataFrame
        `CARRY_COLUMNS`, in order of time, index 0..n-1.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    Read from the tracking, a carry is a spell in which the same player is on the ball (`ball_holder`), from the
    place of the ball in its first frame to that in its last; `estimated` marks it.  A run round an opponent
    counts by the straight distance, so a carry that turns back may be missed.  Places that the events do not give are
    the ball's.
    Source: common practice, no source.
    """
    if match.events is not None and (match.tracking is None or (match.events["kind"] == "carry").any()):
        table = _from_events(match, longest_s)
    else:
        table = _from_tracking(match, match.need_tracking("A list of carries", "Events list them, too."))
    table["distance_m"] = np.hypot(table["end_x"] - table["x"], table["end_y"] - table["y"])
    table = table[table["distance_m"] >= least_m - _ROUNDING_M].reset_index(drop=True)
    return table[list(CARRY_COLUMNS)].astype(CARRY_COLUMNS)


def _from_events(match: Match, longest_s: float) -> pd.DataFrame:
    events = match.attacking_events
    is_carry = ((events["kind"] == "carry") & (events["team"] != "")).to_numpy()
    table = events[is_carry].copy()
    later = events["time_s"].shift(-1).where(events["period"].shift(-1) == events["period"])[is_carry]
    bound = np.fmin(later.to_numpy(float), table["time_s"].to_numpy() + longest_s)
    table["end_s"] = table["end_s"].fillna(pd.Series(bound, index=table.index))
    period, tracking = table["period"].to_numpy(), match.tracking
    for column, at in (("frame", "time_s"), ("end_frame", "end_s")):
        table[column] = -1 if tracking is None else tracking.indices_at(period, table[at].to_numpy())
    for x, y, frame in (("x", "y", "frame"), ("end_x", "end_y", "end_frame")):
        unknown = ((table[x].isna() | table[y].isna()) & (table[frame] >= 0)).to_numpy()
        if tracking is not None and unknown.any():
            sign = match.attack_signs(table["team"].to_numpy(object)[unknown], period[unknown])[:, None]
            ball = tracking.ball[table[frame].to_numpy()[unknown], :2] * sign
            table.loc[unknown, [x, y]] = ball.astype(float)
    return table.assign(estimated=False)


def _from_tracking(match: Match, tracking: Tracking) -> pd.DataFrame:
    column = ball_holder(without_idle_events(match)).column
    spells = [
        runs_of(column == p, tracking.segments, 2) for p in np.unique(column[column >= 0])
    ] or [np.empty((0, 2), np.int64)]  # fmt: skip
    first, stop = np.concatenate(spells).T
    order = np.argsort(first, kind="stable")
    first, last = first[order], stop[order] - 1
    player = column[first]
    names, ids = np.array(tracking.players, dtype=object), np.array([t.team_id for t in match.teams], dtype=object)
    team, period = ids[tracking.team_index[player]], tracking.period[first]
    sign = match.attack_signs(team, period).astype(float)
    return pd.DataFrame(
        {
            "period": period,
            "time_s": tracking.time_s[first],
            "end_s": tracking.time_s[last],
            "team": team,
            "player": names[player],
            "x": tracking.ball[first, 0] * sign,
            "y": tracking.ball[first, 1] * sign,
            "end_x": tracking.ball[last, 0] * sign,
            "end_y": tracking.ball[last, 1] * sign,
            "frame": first,
            "end_frame": last,
            "estimated": True,
        }
    )
