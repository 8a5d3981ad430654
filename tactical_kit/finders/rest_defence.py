"""Rest defence: who stays behind the ball while the side attacks, against whom, and whether it had to hold."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import check_choice
from tactical_kit.finders.registry import finder
from tactical_kit.finders.transitions import find_transitions
from tactical_kit.finders.turnovers import turnovers
from tactical_kit.match import Match, Tracking
from tactical_kit.measures.rest import RestDefence, rest_defence
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import IN_PHASES, find_phases, find_possessions

__all__ = ["COLUMNS", "find_rest_defence"]

COLUMNS: dict[str, Column] = {
    "n_for": Column(
        "float64",
        "own outfield players who stay well behind the ball (median over the moment)",
        short="behind the ball",
    ),
    "n_against": Column(
        "float64", "opponents' outfield players left up as far behind the ball", short="left up against"
    ),
    "superiority": Column("float64", "own players less opponents"),
    "line_m": Column("float64", "mean distance of those who stay from their own goal line", "m"),
    "ball_m": Column("float64", "how far behind the ball they stand on average", "m"),
    "width_m": Column("float64", "from the leftmost to the rightmost of them", "m"),
    "spacing_m": Column("float64", "mean distance of each of them to the nearest of the others", "m"),
    "cover_m": Column("float64", "mean distance of the opponents left up to the nearest of them", "m"),
    "n_for_end": Column(
        "float64", "players behind the ball at the last instant that counts", short="behind at the end"
    ),
    "n_against_end": Column("float64", "opponents left up at the last instant that counts", short="against at the end"),
    "left_up": Column("object", "the opponents who were left up for at least half the moment"),
    "ended": Column("str", "how it ended: lost, out, foul, offside, goal, played back, went on (nearer to the goal)"),
    "counter_faced": Column("boolean", "the ball was lost in play and the opponents went forward at once"),
    "outcome": Column("str", "the furthest that counter-attack came to; empty without one"),
    "estimated": Column("bool", "who had the ball was inferred from positions"),
}
_MEDIANS = ("n_for", "n_against", "width_m", "spacing_m", "cover_m")


@finder(
    "rest defence",
    needs=("tracking or stills",),
    finds="An attack in the final third: who stays behind against a counter-attack, how many against how many.",
    columns=COLUMNS,
)
def find_rest_defence(
    match: Match,
    *,
    phases: tuple[str, ...] = ("final third",),
    behind_m: float = 10.0,
    goal_line_m: float = 30.0,
    stay_share: float = 0.5,
    min_s: float = 0.0,
    holder_m: float = 3.0,
    rate_hz: float = 5.0,
) -> Moments:
    """Find each attack in the final third and describe the rest defence behind it.

    Parameters
    ----------
    match : Match
        With tracking, or with stills: then each still in which a side has the ball in the final third is a moment
        without length.
    phases : tuple of str, default ("final third",)
        Phases with the ball that count as attack; see `find_phases`.
    behind_m, goal_line_m : float, default 10 and 30
        Who is at least 10 m behind the ball and at least 30 m from the goal line attacked belongs to the rest defence;
        an opponent in the same strip is left up for a counter-attack, m.
    stay_share : float, default 0.5
        The players named are those who are there in at least this share of the moment.
    min_s : float, default 0
        The moment lasts at least this long, s.
    holder_m : float, default 3
        Stills: the side with the ball is that of the player nearest to it, at most this far away, m.
    rate_hz : float, default 5
        Instants looked at a second.

    Returns
    -------
    Moments
        Finder "rest defence"; team attacks; players: who stays behind, the deepest first; x, y the mean place of
        those who stay, over the moment.  Columns as in `COLUMNS`: medians over the moment where nothing else is said;
        NaN, <NA> or "" where the data do not say.

    Raises
    ------
    MissingDataError
        Neither tracking nor stills.

    Notes
    -----
    Both sides are counted in the same strip, so a full-back who waits for a switch just behind the ball is not
    counted, and one who tucks in behind the midfield is. Keepers are left out. A ball that is played back or cleared
    belongs to the final third until it is received, but what the strip behind it holds while it flies away says
    nothing: instants after it has been within 43 m of the goal line attacked for the last time (the limit of the phase)
    do not count. The moment ends when the opponents win
    the ball by a tackle or a save, though they have it under control a little later. Whether they went forward at
    once, and what came of it, is what `find_transitions` says of that win. A number such as the superiority of 1.69
    published for one league depends on where such a strip begins: use it for no comparison.
    Source: the idea after Forcher L. et al. 2023, J. Sports Sci. Med. 22:707-725; parameters not verified;
    `behind_m` and
    `goal_line_m` are common practice, no source.
    """
    for name in phases:
        check_choice("a phase with the ball", name, IN_PHASES)
    params = dict(
        phases=phases,
        behind_m=behind_m,
        goal_line_m=goal_line_m,
        stay_share=stay_share,
        min_s=min_s,
        holder_m=holder_m,
        rate_hz=rate_hz,
    )
    if match.tracking is None and match.stills:
        rows = _in_stills(match, behind_m, goal_line_m, holder_m)
    else:
        tracking = match.need_tracking("Rest defence", "Stills would do, too.")
        rows = _in_tracking(match, tracking, phases, behind_m, goal_line_m, stay_share, min_s, rate_hz)
    return Moments.build("rest defence", rows, COLUMNS, params, match.match_id)


def _in_tracking(
    match: Match, tracking: Tracking, phases: tuple[str, ...], behind_m: float, goal_line_m: float,
    stay_share: float, min_s: float, rate_hz: float,
) -> list[dict[str, object]]:  # fmt: skip
    found = find_phases(match)
    table = found.table[found["side"] == "in"]
    limits = [float(str(found.params[name])) for name in ("final_third_m", "final_third_slack_m")]
    left_x = match.pitch.half_length - sum(limits)
    next_phase = table["phase"].shift(-1).where(table["possession"].shift(-1) == table["possession"], "")
    spells = _until_lost(match, table.assign(next_phase=next_phase)[table["phase"].isin(phases)])
    spells = spells[spells["end_s"] - spells["start_s"] >= max(min_s, 1e-3) - 1e-6].reset_index(drop=True)
    possessions = find_possessions(match).table
    rows: list[dict[str, object]] = []
    step = max(1, round(tracking.rate_hz / rate_hz))
    for side in match.teams:
        mine = spells[spells["team"] == side.team_id].reset_index(drop=True)
        spans = [tracking.between(p, a, b) for p, a, b in zip(mine["period"], mine["start_s"], mine["end_s"])]
        frames = [np.unique(np.append(np.arange(s.start, s.stop, step), s.stop - 1)) for s in spans]
        if not frames:
            continue
        whole = sides_at(match, np.concatenate(frames), side.team_id)
        rest = _rest(match, whole, behind_m, goal_line_m)
        after = _what_came(match, mine, possessions)
        edges = np.concatenate([[0], np.cumsum([len(f) for f in frames])])
        for i, spell in enumerate(mine.itertuples()):
            part = slice(int(edges[i]), int(edges[i + 1]))
            there = np.flatnonzero(~(whole.ball[part, 0] < left_x))
            if spell.phase == "final third" and len(there):
                part = slice(part.start, part.start + int(there[-1]) + 1)
            rows.append(
                {
                    "period": spell.period,
                    "start_s": spell.start_s,
                    "end_s": spell.end_s,
                    "team": side.team_id,
                    **_described(match, whole, rest, part, stay_share),
                    **after[i],
                    "estimated": bool(possessions["estimated"].iloc[0]),
                }
            )
    return rows


def _until_lost(match: Match, spells: pd.DataFrame) -> pd.DataFrame:
    """Cut off what lies between the instant the opponents won the ball and the one they had it under control."""
    won = turnovers(match)
    won = won[won["control_s"] > won["time_s"] + 1e-6]
    end_s, cut = spells["end_s"].to_numpy().copy(), np.zeros(len(spells), bool)
    for row in won.itertuples():
        mine = (spells["period"] == row.period) & (spells["team"] == row.loser_team)
        mine &= (spells["end_s"] > row.time_s + 1e-6) & (spells["start_s"] < row.control_s - 1e-6)
        end_s[mine], cut[mine] = np.minimum(end_s[mine], row.time_s), True
    return spells.assign(end_s=end_s, cut=cut)


def _rest(match: Match, sides: Sides, behind_m: float, goal_line_m: float) -> RestDefence:
    highest = match.pitch.half_length - goal_line_m
    return rest_defence(sides.own_outfield, sides.other_outfield, sides.ball[:, 0], highest, behind_m=behind_m)


def _in_stills(match: Match, behind_m: float, goal_line_m: float, holder_m: float) -> list[dict[str, object]]:
    """Each still in which a side has the ball in the final third."""
    instants = match.instants
    assert instants is not None
    away = np.hypot(*(instants.xy[..., i] - instants.ball[:, None, i] for i in (0, 1)))
    away = np.where(np.isfinite(away), away, np.inf)
    nearest = away.argmin(axis=1)
    held = away[np.arange(len(away)), nearest] <= holder_m
    rows: list[dict[str, object]] = []
    for number, side in enumerate(match.teams):
        frames = np.flatnonzero(held & (instants.team_index[nearest] == number))
        whole = sides_at(match, frames, side.team_id)
        rest = _rest(match, whole, behind_m, goal_line_m)
        for i in np.flatnonzero(match.pitch.third_of(match.pitch.onto(whole.ball[:, 0], whole.ball[:, 1])[0]) == 2):
            at = float(instants.time_s[frames[i]])
            rows.append(
                {
                    "period": int(instants.period[frames[i]]),
                    "start_s": at,
                    "end_s": at,
                    "team": side.team_id,
                    **_described(match, whole, rest, slice(int(i), int(i) + 1), 0.5),
                    "ended": "",
                    "counter_faced": pd.NA,
                    "outcome": "",
                    "estimated": True,
                }
            )
    return rows


def _described(match: Match, sides: Sides, rest: RestDefence, part: slice, stay_share: float) -> dict[str, object]:
    """Numbers of one moment: who, how many, how far apart."""
    places, ball_x = sides.own_outfield[part], sides.ball[part, 0]
    stays, left_up = rest.stays[part], rest.left_up[part]
    names = np.array(sides.own_ids, dtype=object)[~sides.own_keeper]
    opponents = np.array(sides.other_ids, dtype=object)[~sides.other_keeper]
    who = np.flatnonzero(stays.mean(axis=0) >= stay_share - 1e-9)
    depth = [_mean(places[:, j, 0]) for j in who]
    numbers = {name: _median(getattr(rest, name)[part]) for name in _MEDIANS}
    x = _mean(rest.x[part])
    here = np.where(stays, places[..., 1], np.nan)
    return {
        "players": tuple(names[j] for j in who[np.argsort(depth, kind="stable")]),
        "x": x,
        "y": _mean(here.ravel()),
        **numbers,
        "superiority": numbers["n_for"] - numbers["n_against"],
        "line_m": x + match.pitch.half_length,
        "ball_m": _mean(ball_x - rest.x[part]),
        "n_for_end": float(rest.n_for[part][-1]),
        "n_against_end": float(rest.n_against[part][-1]),
        "left_up": tuple(opponents[left_up.mean(axis=0) >= stay_share - 1e-9]),
    }


def _what_came(match: Match, spells: pd.DataFrame, possessions: pd.DataFrame) -> list[dict[str, object]]:
    """How each spell ended, and the counter-attack that came of it."""
    counters = find_transitions(match).table
    period, team, start = (
        counters["period"].to_numpy(),
        counters["team"].to_numpy(object),
        counters["start_s"].to_numpy(),
    )
    end = start + counters["kept_s"].to_numpy()
    forward, furthest = counters["went_forward"].to_numpy(object), counters["outcome"].to_numpy(object)
    owns, ends = possessions["outcome"].to_numpy(object), possessions["end_s"].to_numpy()
    result: list[dict[str, object]] = []
    for spell in spells.itertuples():
        if spell.cut:
            ended = "lost"
        elif abs(ends[spell.possession] - spell.end_s) < 1e-3:
            ended = owns[spell.possession]
        else:
            ended = "played back" if _is_further_back(spell.next_phase, spell.phase) else "went on"
        faced: object = pd.NA if ended == "" else False
        outcome = ""
        if ended == "lost":
            here = (period == spell.period) & (team != spell.team)
            row = np.flatnonzero(here & (start <= spell.end_s + 1e-3) & (end > spell.end_s))
            faced = forward[row[0]] if len(row) else pd.NA
            outcome = str(furthest[row[0]]) if faced is not pd.NA and faced else ""
        result.append({"ended": ended, "counter_faced": faced, "outcome": outcome})
    return result


def _is_further_back(phase: str, than: str) -> bool:
    """Tell whether a phase of settled play is further from the goal attacked than another one."""
    settled = ("build-up", "progression", "final third")
    return phase in settled and than in settled and settled.index(phase) < settled.index(than)


def _median(values: NDArray[np.float64]) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else np.nan


def _mean(values: NDArray[np.float64]) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else np.nan
