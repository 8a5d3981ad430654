"""The passes of a match, one row each: from the events, or from who is on the ball in the tracking."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match, Tracking, remembered
from tactical_kit.measures.holder import ball_holder

__all__ = ["PASS_COLUMNS", "pass_table"]

PASS_COLUMNS: dict[str, str] = {
    "period": "int8",
    "time_s": "float64",
    "end_s": "float64",  # when it is received or ends
    "team": "str",
    "player": "str",
    "receiver": "str",  # team-mate it reaches; "" if it reaches none
    "complete": "bool",
    "outcome": "str",
    "detail": "str",
    "set_play": "str",
    "x": "float64",  # attacking frame of the passing side, m
    "y": "float64",
    "end_x": "float64",
    "end_y": "float64",
    "frame": "int64",  # of `match.tracking`; -1 without
    "end_frame": "int64",
    "estimated": "bool",  # read from the tracking alone
}


@remembered
def pass_table(
    match: Match, *, longest_flight_s: float = 6.0, least_travel_m: float = 4.0, longest_loose_s: float = 2.0
) -> pd.DataFrame:
    """List every pass in the attacking frame of the side that plays it.

    Parameters
    ----------
    match : Match
        With events, or with tracking alone; events without a single pass count as none beside tracking.
    longest_flight_s : float, default 6
        A pass takes at most this long, s: where an event says no end, and for passes read from tracking.
    least_travel_m : float, default 4
        Tracking alone: a ball that goes at least this far to an opponent is a pass, a shorter way is a ball
        taken off the player, m.
    longest_loose_s : float, default 2
        Tracking alone: how long the ball may be nobody's between two players within a metre or so of each
        other before it is no pass between them, s.

    Returns
    -------
    DataFrame
        `PASS_COLUMNS`, in order of time, index 0..n-1.  Restarts are among them (`set_play`).

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    The end of a pass without one in the events is the frame in which the receiver has the ball, or the next action
    of anybody, at most `longest_flight_s` later.  Passes read from tracking alone know neither crosses nor
    restarts, and a ball that runs out is not told from a shot; `estimated` marks them.
    Source: common practice, no source.
    """
    events = match.events
    # Events that name no pass at all (a log of shots, say) leave the passes to the tracking.
    if events is not None and (match.tracking is None or (events["kind"] == "pass").any()):
        return _from_events(match, longest_flight_s)
    match.need_tracking("Passes", "Events list them, too.")
    return _from_tracking(match, longest_flight_s, least_travel_m, longest_loose_s)


def _from_events(match: Match, longest_s: float) -> pd.DataFrame:
    events = match.attacking_events
    is_pass = ((events["kind"] == "pass") & (events["team"] != "")).to_numpy()
    table = events[is_pass].copy()
    # The next action of anybody bounds a pass that says no end.
    later = events["time_s"].shift(-1).where(events["period"].shift(-1) == events["period"])[is_pass]
    bound = np.fmin(later.to_numpy(float), table["time_s"].to_numpy() + longest_s)
    table["end_s"] = table["end_s"].fillna(pd.Series(bound, index=table.index))
    same_side = table["receiver"].map(lambda p: match.players[p].team_id if p in match.players else "") == table["team"]
    table["receiver"] = table["receiver"].where(same_side, "")
    succeeded = table["success"].fillna(table["receiver"] != "").astype(bool)
    table["complete"] = succeeded & (table["outcome"].isin(["", "complete"]))
    table["receiver"] = table["receiver"].where(table["complete"], "")
    table["estimated"] = False
    tracking = match.tracking
    for column, at in (("frame", "time_s"), ("end_frame", "end_s")):
        table[column] = (
            -1 if tracking is None else tracking.indices_at(table["period"].to_numpy(), table[at].to_numpy())
        )
    table = table.reset_index(drop=True)
    if tracking is not None:
        table = _with_ends(match, tracking, table)
    return table[list(PASS_COLUMNS)].astype(PASS_COLUMNS)


def _with_ends(match: Match, tracking: Tracking, table: pd.DataFrame) -> pd.DataFrame:
    """Where the events do not say where a pass ends, take the ball's place at its end."""
    unknown = (table["end_x"].isna() & (table["end_frame"] >= 0)).to_numpy()
    if unknown.any():
        sign = match.attack_signs(table["team"].to_numpy(object)[unknown], table["period"].to_numpy()[unknown])
        ball = tracking.ball[table["end_frame"].to_numpy()[unknown], :2] * sign[:, None]
        table.loc[unknown, ["end_x", "end_y"]] = ball.astype(float)
    return table


def _from_tracking(match: Match, longest_s: float, least_m: float, loose_s: float) -> pd.DataFrame:
    tracking = match.tracking
    assert tracking is not None
    column = ball_holder(match).column
    holds = _holds(column, tracking)
    player = column[holds[:, 0]]
    left, came = holds[:-1, 1] - 1, holds[1:, 0]
    passer, receiver = player[:-1], player[1:]
    took = tracking.time_s[came] - tracking.time_s[left]
    travel = np.hypot(*(tracking.ball[came, i] - tracking.ball[left, i] for i in (0, 1)))
    dead = np.concatenate([[0], np.cumsum(~tracking.alive)])
    in_play = dead[came] == dead[left]
    same_period = tracking.period[came] == tracking.period[left]
    same_side = tracking.team_index[passer] == tracking.team_index[receiver]
    near = travel < least_m
    is_pass = same_period & in_play & (took <= np.where(near, loose_s, longest_s)) & (passer != receiver)
    is_pass &= same_side | ~near
    passer, receiver, left, came, same_side = (a[is_pass] for a in (passer, receiver, left, came, same_side))
    ids, names = np.array([t.team_id for t in match.teams], dtype=object), np.array(tracking.players, dtype=object)
    team = ids[tracking.team_index[passer]]
    sign = match.attack_signs(team, tracking.period[left]).astype(float)
    table = pd.DataFrame(
        {
            "period": tracking.period[left],
            "time_s": tracking.time_s[left],
            "end_s": tracking.time_s[came],
            "team": team,
            "player": names[passer],
            "receiver": np.where(same_side, names[receiver], ""),
            "complete": same_side,
            "outcome": np.where(same_side, "complete", "intercepted"),
            "detail": "",
            "set_play": "",
            "x": tracking.ball[left, 0] * sign,
            "y": tracking.ball[left, 1] * sign,
            "end_x": tracking.ball[came, 0] * sign,
            "end_y": tracking.ball[came, 1] * sign,
            "frame": left,
            "end_frame": came,
            "estimated": True,
        }
    )
    return table[list(PASS_COLUMNS)].astype(PASS_COLUMNS)


def _holds(column: NDArray[np.int16], tracking: Tracking) -> NDArray[np.int64]:
    """Runs of frames with the same player on the ball, (R, 2) half-open, in order."""
    broken = np.diff(column, prepend=-2) != 0
    for segment in tracking.segments:
        broken[segment.start] = True
    first = np.flatnonzero(broken)
    last = np.append(first[1:], len(column))
    held = column[first] >= 0
    return np.column_stack([first[held], last[held]])
