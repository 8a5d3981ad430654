"""The passes of a match, one row each: from the events, or from who is on the ball in the tracking."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match, Tracking, remembered
from tactical_kit.measures.holder import ball_holder

__all__ = ["PASS_COLUMNS", "pass_table", "without_idle_events"]

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


_ROUNDING_M = 1e-5  # places are kept in single precision: a hundredth of a millimetre is no threshold
_REACH_HEIGHT_M = 2.5  # a ball higher than this is out of a standing player's reach


def without_idle_events(match: Match) -> Match:
    """Return the match without events that tell of neither passes nor carries: they do not say who has the ball."""
    idle = match.events is not None and not match.events["kind"].isin(["pass", "carry"]).any()
    return match.with_data(events=None) if idle else match


@remembered
def pass_table(
    match: Match,
    *,
    longest_flight_s: float = 6.0,
    least_travel_m: float = 4.0,
    longest_loose_s: float = 2.0,
    touch_m: float = 1.2,
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
    touch_m : float, default 1.2
        A pass for which the events say no end has ended when the ball, not higher than 2.5 m, is at most this far from
        its receiver, m.

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
    The end of a pass without one in the events is the first frame in which its receiver, or without one whoever cuts
    it off, has the ball; without tracking, or if nobody has it, the next action of anybody. It is never later than
    that action, nor than `longest_flight_s` after the strike. Places that the events do not give are the ball's.
    Passes read from tracking alone know neither crosses nor restarts, and a ball that runs out is not told from a
    shot; `estimated` marks them.
    Source: common practice, no source.
    """
    events = match.events
    # Events that name no pass at all (a log of shots, say) leave the passes to the tracking.
    if events is not None and (match.tracking is None or (events["kind"] == "pass").any()):
        return _from_events(match, longest_flight_s, touch_m)
    match.need_tracking("A list of passes", "Events list them, too.")
    return _from_tracking(match, longest_flight_s, least_travel_m, longest_loose_s)


def _from_events(match: Match, longest_s: float, touch_m: float) -> pd.DataFrame:
    events = match.attacking_events
    is_pass = ((events["kind"] == "pass") & (events["team"] != "")).to_numpy()
    table = events[is_pass].copy()
    tracking = match.tracking
    # The next action of anybody bounds a pass that says no end.
    later = events["time_s"].shift(-1).where(events["period"].shift(-1) == events["period"])[is_pass]
    bound = np.fmin(later.to_numpy(float), table["time_s"].to_numpy() + longest_s)
    open_ended = table["end_s"].isna().to_numpy()
    if tracking is not None and len(tracking) and open_ended.any():
        bound[open_ended] = _received(match, tracking, table[open_ended], bound[open_ended], touch_m)
    table["end_s"] = table["end_s"].fillna(pd.Series(bound, index=table.index))
    same_side = table["receiver"].map(lambda p: match.players[p].team_id if p in match.players else "") == table["team"]
    table["receiver"] = table["receiver"].where(same_side, "")
    succeeded = table["success"].fillna(table["receiver"] != "").astype(bool)
    table["complete"] = succeeded & (table["outcome"].isin(["", "complete"]))
    table["receiver"] = table["receiver"].where(table["complete"], "")
    table["estimated"] = False
    for column, at in (("frame", "time_s"), ("end_frame", "end_s")):
        table[column] = (
            -1 if tracking is None else tracking.indices_at(table["period"].to_numpy(), table[at].to_numpy())
        )
    table = table.reset_index(drop=True)
    if tracking is not None:
        table = _with_ends(match, tracking, table)
    return table[list(PASS_COLUMNS)].astype(PASS_COLUMNS)


def _received(
    match: Match, tracking: Tracking, table: pd.DataFrame, latest_s: NDArray[np.float64], touch_m: float
) -> NDArray[np.float64]:
    """First instant after each strike in which the ball has been received or cut off, at most `latest_s`."""
    column = ball_holder(match).column
    low = ~(tracking.ball[:, 2] > _REACH_HEIGHT_M)  # an unknown height can be reached
    result = latest_s.copy()
    places = {name: i for i, name in enumerate(tracking.players)}
    for i, row in enumerate(table.itertuples()):
        frames = tracking.between(row.period, row.time_s + 1e-3, latest_s[i])
        receiver, passer = places.get(row.receiver, -1), places.get(row.player, -1)
        if receiver >= 0 and match.players[row.receiver].team_id == row.team:
            away = np.hypot(*(tracking.xy[frames, receiver, k] - tracking.ball[frames, k] for k in (0, 1)))
            came = np.flatnonzero((away <= touch_m + _ROUNDING_M) & low[frames])
        else:
            came = np.flatnonzero((column[frames] >= 0) & (column[frames] != passer))
        if len(came):
            result[i] = tracking.time_s[frames.start + came[0]]
    return result


def _with_ends(match: Match, tracking: Tracking, table: pd.DataFrame) -> pd.DataFrame:
    """Where the events do not say where a pass begins or ends, take the ball's place at that instant."""
    for x, y, frame in (("x", "y", "frame"), ("end_x", "end_y", "end_frame")):
        unknown = ((table[x].isna() | table[y].isna()) & (table[frame] >= 0)).to_numpy()
        if unknown.any():
            sign = match.attack_signs(table["team"].to_numpy(object)[unknown], table["period"].to_numpy()[unknown])
            ball = tracking.ball[table[frame].to_numpy()[unknown], :2] * sign[:, None]
            table.loc[unknown, [x, y]] = ball.astype(float)
    return table


def _from_tracking(match: Match, longest_s: float, least_m: float, loose_s: float) -> pd.DataFrame:
    tracking = match.tracking
    assert tracking is not None
    column = ball_holder(without_idle_events(match)).column
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
    near = travel < least_m - _ROUNDING_M
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
