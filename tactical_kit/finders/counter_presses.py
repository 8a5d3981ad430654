"""Counter-pressing: each loss of the ball in open play, how the side stood, who hunted the ball, what came of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.registry import finder
from tactical_kit.finders.turnovers import aftermath_of, turnovers
from tactical_kit.match import Match, Tracking
from tactical_kit.measures.hull import hull_area
from tactical_kit.measures.loss_shape import hunting, near_count, nearest_approach_ms
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.pitch import CORRIDORS, THIRDS

__all__ = ["COLUMNS", "find_counter_presses"]

COLUMNS: dict[str, Column] = {
    "pressed": Column("boolean", "the side hunted the ball at once: a counter-press; <NA> where it cannot be told"),
    "loser": Column("str", "who lost the ball"),
    "won_by": Column("str", "how the opponents won it"),
    "third": Column("str", "third of the pitch in which it was lost"),
    "corridor": Column("str", "corridor in which it was lost"),
    "near_count": Column("float64", "own outfield players near the ball at the loss", short="near the ball"),
    "near_opponents": Column(
        "float64", "opponents' outfield players near the ball at the loss", short="opponents near"
    ),
    "hull_m2": Column("float64", "area around the own outfield players at the loss", "m2", short="area"),
    "reaction_s": Column("float64", "until the first of them ran at the ball", "s"),
    "first_presser": Column("str", "who ran at it first"),
    "hunters": Column("float64", "how many hunted it, on average over the time that is judged"),
    "closing_ms": Column("float64", "how fast the nearest three ran at it, on average over that time", "m/s"),
    "regained": Column("boolean", "the ball was back in open play within the seconds of the counter-press"),
    "regain_s": Column("float64", "until the ball was back in open play, however late", "s"),
    "ended": Column(
        "str", "how those seconds ended: regained, kept (by the others), out, foul, offside, goal, own goal"
    ),
    "beaten": Column("boolean", "it was a counter-press and the opponents still had the ball in play at its end"),
    "conceded": Column("str", "the furthest the opponents then came: final third, box, shot, goal"),
    "estimated": Column("bool", "who had the ball was inferred from positions"),
}
_CONCEDED = (("goal_s", "goal"), ("shot_s", "shot"), ("box_s", "box"), ("third_s", "final third"))
_SPAN_S = 0.2  # velocities are differences from so long before to so long after


@finder(
    "counter-press",
    needs=("events or tracking",),
    finds="A loss of the ball in open play: how the side stood, who hunted the ball at once, and whether it came back.",
    columns=COLUMNS,
)
def find_counter_presses(
    match: Match,
    *,
    window_s: float = 5.0,
    min_control_s: float = 0.3,
    near_m: float = 10.0,
    judged_from_s: float = 0.4,
    judged_to_s: float = 2.4,
    hunters_least: float = 1.25,
    closing_least_ms: float = 2.0,
    closing_players: int = 3,
    hurried_s: float = 1.0,
    hunt_m: float = 15.0,
    hunt_speed_ms: float = 2.0,
    hunt_own_ms: float = 1.0,
    hunt_tight_m: float = 2.5,
    conceded_s: float = 20.0,
    rate_hz: float = 5.0,
    soon_s: float = 2.0,
    hunter_least_s: float = 0.4,
) -> Moments:
    """Find each loss of the ball in open play, and tell whether it was followed by a counter-press.

    Parameters
    ----------
    match : Match
        With events or tracking; all but `regained`, `regain_s`, `ended` and `conceded` need tracking.
    window_s : float, default 5
        The ball was regained if it was back at most this long after the loss, s.  A ball that goes out ends the window.
    min_control_s : float, default 0.3
        A side that has the ball for less than this has only touched it, s; see `find_possessions`.
    near_m : float, default 10
        A player at most this far from the ball is near it, m.
    judged_from_s, judged_to_s : float, default 0.4 and 2.4
        Whether it was a counter-press is judged between these times after the loss, both included: after a moment to
        turn round, and before the opponents have played out, s.  With nothing to look at in between, all that
        there is counts.
    hunters_least, closing_least_ms : float, default 1.25 and 2
        It was one if over that time on average at least so many players hunted the ball (one all the time and a
        second for a quarter of it), and the nearest `closing_players` ran at it with at least this speed, m/s.
    closing_players : int, default 3
        See there.
    hurried_s : float, default 1
        A ball that was back, or play that was stopped, at most this long after the loss is judged by the number of
        hunters alone: nobody comes up to speed in that time, s.
    hunt_m, hunt_speed_ms, hunt_own_ms, hunt_tight_m : float, default 15, 2, 1 and 2.5
        Who hunts the ball: see `tactical_kit.measures.loss_shape.hunting`, m and m/s.
    conceded_s : float, default 20
        What the opponents reach without losing the ball counts for at most this long after the loss, s.
    rate_hz : float, default 5
        Instants looked at a second.
    soon_s : float, default 2
        How the opponents won it, and who did, shows within this time, s; see
        `tactical_kit.finders.turnovers.turnovers`.
    hunter_least_s : float, default 0.4
        Who hunted the ball for at least so long is among the players named, s.

    Returns
    -------
    Moments
        Finder "counter-press", one row a loss, whether it was counter-pressed or not (`pressed`); from the loss to the
        end of the window, or of the opponents' possession if that came sooner.  team lost the ball; players: who
        ran at it first, then the others who hunted it, the longest first; x, y where it was lost.  Columns as in
        `COLUMNS`; NaN, <NA> or "" where the data do not say.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    The loss is the instant at which the opponents have the ball under control; a goal kick, a throw-in or a free kick
    against a side is no loss in open play.  A ball in the keeper's hands cannot be hunted.  `reaction_s` is read at
    `rate_hz`, so it is no finer than a fifth of a second.  A side that runs back towards its goal past the ball is
    not taken for one that hunts it, unless the ball lies on its way: this is where it errs most.
    Source: the five seconds are the coaches' rule, after Bauer & Anzer 2021, Data Min. Knowl. Disc., doi
    10.1007/s10618-021-00763-7 (parameters not verified); the rest is common practice, no source, with
    `hunters_least`, `closing_least_ms`, `hunt_m` and the time that is judged chosen among round values on simulated
    matches.
    """
    params = dict(
        window_s=window_s, min_control_s=min_control_s, near_m=near_m, judged_from_s=judged_from_s,
        judged_to_s=judged_to_s, hunters_least=hunters_least, closing_least_ms=closing_least_ms,
        closing_players=closing_players, hurried_s=hurried_s, hunt_m=hunt_m, hunt_speed_ms=hunt_speed_ms,
        hunt_own_ms=hunt_own_ms, hunt_tight_m=hunt_tight_m, conceded_s=conceded_s, rate_hz=rate_hz,
        soon_s=soon_s, hunter_least_s=hunter_least_s,
    )  # fmt: skip
    lost = turnovers(match, min_control_s=min_control_s, soon_s=soon_s)
    period, time_s = lost["period"].to_numpy(), lost["time_s"].to_numpy()
    length = (lost["end_s"] - lost["time_s"]).to_numpy()
    regained = lost["back_s"].to_numpy() <= window_s + 1e-6  # a millionth of a second is no threshold
    hunt = _hunt(match, lost, params)
    hurried = length <= hurried_s + 1e-6
    in_his_hands = (lost["won_by"] == "keeper").to_numpy()
    closes = hunt.closing_ms >= closing_least_ms - 1e-9
    pressed = (hunt.hunters >= hunters_least - 1e-9) & (hurried | closes) & ~in_his_hands
    told = np.isfinite(hunt.hunters) & (hurried | np.isfinite(hunt.closing_ms)) | in_his_hands
    ended = _ended(lost, regained, window_s)
    beaten = pressed & np.isin(ended, ["kept", "goal"])
    x, y = match.pitch.onto(-lost["x"] + 0.0, -lost["y"] + 0.0)
    after = aftermath_of(match, lost, conceded_s, min_control_s)
    ended[(ended == "goal") & (after["ended"] == "own goal").to_numpy()] = "own goal"
    beaten &= ended != "own goal"
    rows = pd.DataFrame(
        {
            "period": period,
            "start_s": time_s,
            "end_s": time_s + np.minimum(length, window_s),
            "team": lost["loser_team"],
            "players": hunt.players,
            "x": x,
            "y": y,
            "pressed": pd.array(pressed, "boolean"),
            "loser": lost["loser"],
            "won_by": lost["won_by"],
            "third": np.array([*THIRDS, ""], dtype=object)[match.pitch.third_of(x)],
            "corridor": np.array([*CORRIDORS, ""], dtype=object)[match.pitch.corridor_of(y)],
            "near_count": hunt.near,
            "near_opponents": hunt.near_opponents,
            "hull_m2": hunt.hull_m2,
            "reaction_s": hunt.reaction_s,
            "first_presser": [p[0] if p and np.isfinite(r) else "" for p, r in zip(hunt.players, hunt.reaction_s)],
            "hunters": hunt.hunters,
            "closing_ms": hunt.closing_ms,
            "regained": pd.array(regained, "boolean"),
            "regain_s": lost["back_s"],
            "ended": ended,
            "beaten": pd.array(beaten, "boolean"),
            "conceded": _conceded(after),
            "estimated": lost["estimated"],
        }
    )
    rows.loc[~told, ["pressed", "beaten"]] = pd.NA
    rows.loc[ended == "", "regained"] = pd.NA  # the data break off
    rows.loc[(ended == "") & pressed, "beaten"] = pd.NA
    return Moments.build("counter-press", rows, COLUMNS, params, match.match_id)


@dataclass(frozen=True, eq=False)
class _Hunt:
    """What the side that lost the ball did about it, one value a loss; NaN where nobody saw it."""

    near: NDArray[np.float64]
    near_opponents: NDArray[np.float64]
    hull_m2: NDArray[np.float64]
    hunters: NDArray[np.float64]
    closing_ms: NDArray[np.float64]
    reaction_s: NDArray[np.float64]
    players: list[tuple[str, ...]]


def _hunt(match: Match, lost: pd.DataFrame, params: dict[str, float]) -> _Hunt:
    n = len(lost)
    near, near_opponents, hull, hunters, closing, reaction = np.full((6, n), np.nan)
    hunt = _Hunt(near, near_opponents, hull, hunters, closing, reaction, [()] * n)
    tracking = match.tracking
    if tracking is None or not len(tracking):
        return hunt
    for side in match.teams:
        mine = np.flatnonzero((lost["loser_team"] == side.team_id) & (lost["frame"] >= 0))
        if len(mine):
            _hunt_of_side(match, tracking, lost.iloc[mine], mine, side.team_id, params, hunt)
    return hunt


def _hunt_of_side(
    match: Match, tracking: Tracking, lost: pd.DataFrame, rows: NDArray[np.int64], team: str,
    params: dict[str, float], hunt: _Hunt,
) -> None:  # fmt: skip
    """Fill in the losses of one side."""
    at_loss = lost["frame"].to_numpy()
    sides = sides_at(match, at_loss, team)
    hunt.near[rows] = near_count(sides.own_outfield, sides.ball, params["near_m"])
    hunt.near_opponents[rows] = near_count(sides.other_outfield, sides.ball, params["near_m"])
    hunt.hull_m2[rows] = hull_area(sides.own_outfield)

    frames = _instants(tracking, lost, params["window_s"], params["rate_hz"])
    instants = frames.shape[1]
    sides = sides_at(match, frames.ravel(), team)
    velocity = _velocity(match, tracking, frames.ravel(), team, sides)
    place = sides.own_outfield
    thresholds = {name: params[name] for name in ("hunt_m", "hunt_speed_ms", "hunt_own_ms", "hunt_tight_m")}
    runs, hunts = hunting(place, velocity, sides.ball, **thresholds)
    seen = np.isfinite(velocity[..., 0]).any(axis=1) & np.isfinite(sides.ball[:, 0])
    count = np.where(seen, hunts.sum(axis=1), np.nan).reshape(-1, instants)
    closing = nearest_approach_ms(place, velocity, sides.ball, int(params["closing_players"])).reshape(-1, instants)
    rate = params["rate_hz"]
    since = np.arange(instants) / rate
    judged = (since >= params["judged_from_s"] - 1e-6) & (since <= params["judged_to_s"] + 1e-6)
    for result, values in ((hunt.hunters, count), (hunt.closing_ms, closing)):
        mean = _mean(values[:, judged])
        result[rows] = np.where(np.isfinite(mean), mean, _mean(values))

    names = np.array(sides.own_ids, dtype=object)[~sides.own_keeper]
    runs, hunts = runs.reshape(len(rows), instants, -1), hunts.reshape(len(rows), instants, -1)
    away = np.hypot(*(place[..., i] - sides.ball[:, None, i] for i in (0, 1))).reshape(runs.shape)
    for row, running, hunted, far in zip(rows, runs, hunts, away):
        first = np.flatnonzero(running.any(axis=1))
        who = np.argsort(-hunted.sum(axis=0), kind="stable")
        order = [int(j) for j in who if hunted[:, j].sum() >= max(1.0, params["hunter_least_s"] * rate) - 1e-6]
        if len(first):
            hunt.reaction_s[row] = since[first[0]]
            reached = np.where(running[first[0]], far[first[0]], np.inf)
            order = [int(reached.argmin()), *(j for j in order if j != int(reached.argmin()))]
        hunt.players[row] = tuple(names[order])


def _instants(tracking: Tracking, lost: pd.DataFrame, window_s: float, rate_hz: float) -> NDArray[np.int64]:
    """Frames from each loss on, (n, K); -1 once the opponents have lost the ball or the data break off."""
    since = np.arange(int(np.floor(window_s * rate_hz + 1e-6)) + 1) / rate_hz
    start, end = lost["time_s"].to_numpy(), lost["end_s"].to_numpy()
    time_s = start[:, None] + since
    period = np.repeat(lost["period"].to_numpy()[:, None], len(since), axis=1)
    frame = tracking.indices_at(period.ravel(), time_s.ravel()).reshape(time_s.shape)
    late = np.abs(tracking.time_s[frame] - time_s) > 1.5 / tracking.rate_hz
    return np.where((frame >= 0) & ~late & (time_s < end[:, None] - 1e-6), frame, -1)


def _velocity(
    match: Match, tracking: Tracking, frame: NDArray[np.int64], team: str, sides: Sides
) -> NDArray[np.float64]:
    """Velocity of the own outfield players by differences, NaN across a gap; the whole match is not worked out."""
    reach = max(1, round(_SPAN_S * tracking.rate_hz))
    last = len(tracking) - 1
    before, after = np.clip(frame - reach, 0, last), np.clip(frame + reach, 0, last)
    span = tracking.time_s[after] - tracking.time_s[before]
    whole = (frame >= 0) & (span > 0) & (span < (2 * reach + 1.5) / tracking.rate_hz)
    places = [sides_at(match, np.where(whole, f, -1), team).own_outfield for f in (before, after)]
    return np.asarray((places[1] - places[0]) / np.where(whole, span, np.nan)[:, None, None])


def _mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    known = np.isfinite(values)
    number = known.sum(axis=1)
    return np.where(number > 0, np.where(known, values, 0).sum(axis=1) / np.maximum(number, 1), np.nan)


def _ended(lost: pd.DataFrame, regained: NDArray[np.bool_], window_s: float) -> NDArray[np.object_]:
    """How the seconds after the loss ended."""
    longer = (lost["end_s"] - lost["time_s"]).to_numpy() > window_s + 1e-6
    return np.where(regained, "regained", np.where(longer, "kept", lost["ended"].to_numpy(object)))


def _conceded(after: pd.DataFrame) -> NDArray[np.object_]:
    """The furthest the opponents came with that ball."""
    result = np.full(len(after), "", dtype=object)
    for column, word in reversed(_CONCEDED):
        result[np.isfinite(after[column].to_numpy())] = word
    return result
