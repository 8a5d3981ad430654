"""Which phase it was at given instants: from the table of phases to arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match
from tactical_kit.moments import Moments
from tactical_kit.phases.words import IN_PHASES, NO_PHASE, OUT_PHASES

__all__ = ["PhaseCodes", "phase_codes"]

from typing import NamedTuple


class PhaseCodes(NamedTuple):
    """Arrays of one value an instant; -1 where there is no phase.

    Parameters
    ----------
    team : int8 ndarray
        Side with the ball: 0 home, 1 away.
    in_phase : int8 ndarray
        Index into `IN_PHASES` of the side with the ball.
    out_phase : int8 ndarray
        Index into `OUT_PHASES` of the side without.
    """

    team: NDArray[np.int8]
    in_phase: NDArray[np.int8]
    out_phase: NDArray[np.int8]


def phase_codes(moments: Moments, match: Match, period: ArrayLike, time_s: ArrayLike) -> PhaseCodes:
    """Look up the phases of both sides at instants.

    Parameters
    ----------
    moments : Moments
        Of `find_phases`.
    match : Match
        The match they were found in.
    period, time_s : array_like of the same shape (N,)
        The instants, in any order; spans are half-open, so an instant on a border belongs to the later one.

    Returns
    -------
    PhaseCodes
        team, in_phase, out_phase; each (N,) int8, -1 while the ball is dead or outside the data.

    Raises
    ------
    TacticalKitError
        Moments of another finder.
    """
    if moments.finder != "phase":
        raise TacticalKitError(f"phase_codes needs the moments of finder 'phase', met {moments.finder!r}.")
    period, time_s = np.broadcast_arrays(np.asarray(period), np.asarray(time_s, float))
    table = moments.table
    result = []
    team = np.full(period.shape, NO_PHASE, np.int8)
    for side, names in (("in", IN_PHASES), ("out", OUT_PHASES)):
        rows = table[(table["side"] == side).to_numpy()]
        codes = np.full(period.shape, NO_PHASE, np.int8)
        code_of = {name: i for i, name in enumerate(names)}
        code = np.array([code_of[p] for p in rows["phase"].tolist()], np.int8)
        owner = (rows["team"] != match.home.team_id).to_numpy(np.int8)
        numbers, starts, ends = (rows[c].to_numpy() for c in ("period", "start_s", "end_s"))
        for number in np.unique(numbers):
            mine = np.flatnonzero(numbers == number)
            here = period == number
            # The microsecond makes up for times that were written in another order of additions.
            at = np.searchsorted(starts[mine], time_s[here] + 1e-6, "right") - 1
            row = mine[np.maximum(at, 0)]
            inside = (at >= 0) & (time_s[here] + 1e-6 < ends[row])
            codes[here] = np.where(inside, code[row], NO_PHASE)
            if side == "in":
                team[here] = np.where(inside, owner[row], NO_PHASE)
        result.append(codes)
    return PhaseCodes(team, result[0], result[1])
