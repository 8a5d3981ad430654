"""The match clock: think five times a second, move twenty-five times, write every frame."""

from __future__ import annotations

import math

from . import _layout as L
from ._body import ball_dead_step, ball_free_step, ball_held_step, move_players
from ._compiled import compiled
from ._mind import decide
from ._phase import update_phases
from ._referee import award, check_out, dead_ball
from ._shape import place_everyone
from ._space import clock, dist_to
from ._touch import challenge, chase_ball, meet_ball

__all__ = ["advance", "prepare_kickoff"]


@compiled(outer=True)
def prepare_kickoff(s, rng, k):
    """Start of a period: sides in their halves, ball on the centre spot, team ``k`` to kick off."""
    for c in range(6):
        s.ball[c] = 0.0
    award(s, rng, L.R_KICKOFF, k, 0.0, 0.0)
    s.f[L.T_READY] = 0.0
    s.f[L.T_DEAD] = -10.0
    dead_ball(s, rng)
    for i in range(22):
        if s.q[i, L.ON]:
            s.pos[i, 0], s.pos[i, 1] = s.tgt[i, 0], s.tgt[i, 1]
            s.vel[i, 0], s.vel[i, 1] = 0.0, 0.0
            s.w[i, L.HEAD_X], s.w[i, L.HEAD_Y] = s.sg[i // 11], 0.0


@compiled(outer=True)
def advance(s, rng, frames, rec_xy, rec_ball, rec_flag):
    """Play ``frames`` steps of 1/25 s and write them from row ``FRAME`` on.

    rec_flag columns: alive, owner, in-phase, out-phase, holder's slot.
    """
    for _ in range(frames):
        f = s.n[L.FRAME]
        if f % L.THINK == 0:
            if s.n[L.ALIVE]:
                update_phases(s, rng)
                if s.n[L.CTL] >= 0 and clock(s) >= s.f[L.T_DECIDE]:
                    decide(s, rng, s.n[L.CTL])
                if s.n[L.CTL] >= 0:
                    challenge(s, rng)
            if s.n[L.ALIVE]:
                place_everyone(s, rng)
                if s.n[L.CTL] < 0:
                    chase_ball(s, rng)
                for i in range(22):
                    if s.q[i, L.LEAVING]:
                        s.q[i, L.LEAVING] = 0
            else:
                dead_ball(s, rng)
        # write this frame before anything moves
        for i in range(22):
            if s.q[i, L.ON]:
                rec_xy[f, i, 0] = s.pos[i, 0]
                rec_xy[f, i, 1] = s.pos[i, 1]
            else:
                rec_xy[f, i, 0] = math.nan
                rec_xy[f, i, 1] = math.nan
        rec_ball[f, 0], rec_ball[f, 1], rec_ball[f, 2] = s.ball[0], s.ball[1], s.ball[2]
        rec_flag[f, 0] = s.n[L.ALIVE]
        if s.n[L.ALIVE]:
            rec_flag[f, 1] = s.n[L.OWN]
            rec_flag[f, 2] = s.n[L.INPH]
            rec_flag[f, 3] = s.n[L.OUTPH]
        else:
            rec_flag[f, 1] = -1
            rec_flag[f, 2] = 0
            rec_flag[f, 3] = 0
        rec_flag[f, 4] = s.n[L.CTL]
        move_players(s)
        s.f[L.PLAYED] += L.DT * s.n[L.ALIVE]
        if s.n[L.ALIVE] == 0:
            hold = s.n[L.RESTART] == L.R_THROW and dist_to(s, s.n[L.TAKER], s.ball[0], s.ball[1]) < 1.0
            ball_dead_step(s, hold)
        elif s.n[L.CTL] >= 0:
            h = s.n[L.CTL]
            hands = h % 11 == 0 and -s.pos[h, 0] * s.sg[h // 11] > 36.2 and abs(s.pos[h, 1]) < 20.0
            ball_held_step(s, hands and s.n[L.HANDS] == 1)
        else:
            ball_free_step(s)
        s.n[L.FRAME] = f + 1
        if s.n[L.ALIVE]:
            if s.n[L.CTL] < 0:
                meet_ball(s, rng)
            check_out(s, rng)
