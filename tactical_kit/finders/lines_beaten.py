"""Lines beaten: passes and carries that take opponents out of the game."""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd

from tactical_kit.finders.context import next_actions
from tactical_kit.finders.registry import finder
from tactical_kit.finders.units import opponents_lines
from tactical_kit.match import Match
from tactical_kit.measures.beaten import beaten_by
from tactical_kit.measures.carries import carry_table
from tactical_kit.measures.passes import pass_table
from tactical_kit.moments import Column, Moments

__all__ = ["find_lines_beaten"]

COLUMNS = {
    "by": Column("str", "pass or carry"),
    "opponents_beaten": Column("int64", "outfield opponents ahead of the ball before and behind it after"),
    "line": Column("str", "the line beaten that is nearest to the goal: first, midfield or back line"),
    "lines_beaten": Column("float64", "how many unit lines were beaten at once"),
    "how": Column("str", "through, around or over that line"),
    "receiver": Column("str", "who got the pass; nobody for a carry"),
    "gain_m": Column("float64", "how far the ball came towards the goal line", "m"),
    "gap_m": Column("float64", "width of the gap it went through", "m"),
    "beaten": Column("object", "the opponents who were beaten, the one nearest to the goal last"),
    "set_play": Column("str", "the restart it was played from, nothing in open play"),
    "next_action": Column("str", "what the player who had the ball then did with it"),
    "estimated": Column("bool", "pass or carry read from the tracking alone"),
}


@finder(
    "lines beaten",
    needs=("tracking",),
    finds="A pass or a carry that breaks a line of the opponents, or takes several of them out of the game.",
    columns=COLUMNS,
)
def find_lines_beaten(
    match: Match,
    *,
    least_lines: int = 1,
    least_opponents: int = 3,
    least_carry_m: float = 5.0,
    over_m: float = 2.0,
) -> Moments:
    """Find every completed pass and every carry that beats a unit line, or several opponents at once.

    Parameters
    ----------
    match : Match
        With tracking; passes and carries come from the events where there are any.
    least_lines : int, default 1
        At least so many unit lines are beaten (first line, midfield line, back line), or
    least_opponents : int, default 3
        at least so many opponents, whatever line they stand in.
    least_carry_m : float, default 5
        A carry takes the ball at least this far, m.
    over_m : float, default 2
        A ball higher than this where it crosses a line goes over it, m.

    Returns
    -------
    Moments
        Finder "lines beaten", from the instant the ball is played (or the carry begins) until it arrives (or ends).
        `team` has the ball; players: passer and receiver, or the carrier; x, y where the ball starts.  Own columns
        in `COLUMNS`.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    An opponent is beaten who is strictly ahead of the ball when it starts and strictly behind it when it has arrived;
    keepers do not count.  A line is beaten if the ball starts in front of its mean depth and ends beyond it, past at
    least half of its players (`measures.beaten`).  Everyone belongs to the line he usually stands in while the block
    stands (`finders.units`), so that a man who has jumped out, or a full-back high up, makes no line of his own: of
    thirty cases of simulated matches in which the places at the instant would say something else, looked at on the
    pitch, the usual lines were right in some twenty, the places in two.  With fewer than seven opponents in the data
    there are no lines (`lines_beaten` NaN).  Restarts are among the passes (`set_play`).  Passes that do not arrive
    beat nobody; a ball that a player lets run, or a carry that ends in a tackle, counts as far as it went.
    Source: opponents after Steiner et al. 2019, lines after FIFA's training centre 2024 (see `measures.beaten`); the
    thresholds are common practice, no source.
    """
    params = {
        "least_lines": least_lines, "least_opponents": least_opponents, "least_carry_m": least_carry_m,
        "over_m": over_m,
    }  # fmt: skip
    played = _actions(match, least_carry_m)
    beaten = beaten_by(match, played, over_m=over_m, lines_of=partial(opponents_lines, match))
    enough = (beaten["lines_beaten"] >= least_lines) | (beaten["opponents_beaten"] >= least_opponents)
    found, numbers = played[enough].reset_index(drop=True), beaten[enough].reset_index(drop=True)
    x, y = match.pitch.onto(found["x"], found["y"], margin_m=np.inf)
    # Who has the ball then; of a pass that arrived at nobody knows whom, nobody knows what came next.
    has_it = found["receiver"].where(found["by"] == "pass", found["player"])
    known = (has_it != "").to_numpy()
    came_next = np.full(len(found), "", dtype=object)
    came_next[known] = next_actions(match, found["period"][known], found["end_s"][known], has_it[known])
    rows = pd.DataFrame(
        {
            **{c: found[c] for c in ("period", "team", "by", "receiver", "set_play", "estimated")},
            **{c: numbers[c] for c in ("opponents_beaten", "line", "lines_beaten", "how", "gap_m", "beaten")},
            "start_s": found["time_s"],
            "end_s": found["end_s"],
            "players": [(p, r) if r else (p,) for p, r in zip(found["player"], found["receiver"])],
            "x": x,
            "y": y,
            "gain_m": found["end_x"] - found["x"],
            "next_action": came_next,
        }
    )
    return Moments.build("lines beaten", rows, COLUMNS, params, match.match_id)


def _actions(match: Match, least_carry_m: float) -> pd.DataFrame:
    """Return completed passes and carries in one table."""
    passes = pass_table(match)
    passes = passes[passes["complete"]].assign(by="pass")
    carries = carry_table(match, least_m=least_carry_m).assign(by="carry", receiver="", set_play="")
    columns = [
        "period", "time_s", "end_s", "team", "player", "receiver", "set_play", "by",
        "x", "y", "end_x", "end_y", "frame", "end_frame", "estimated",
    ]  # fmt: skip
    return pd.concat([passes[columns], carries[columns]], ignore_index=True)
