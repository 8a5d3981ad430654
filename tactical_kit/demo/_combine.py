"""Passes with a second thought: lay-offs to a third man, one-twos, and the pressing cues a pass gives away."""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled
from ._kick import ground_speed, play_pass
from ._shape import clip
from ._space import clock, end_pattern, lane_chance, line_of, log_pattern, nearest_opponent, worth

__all__ = ["cue_given", "openness", "read_cues", "stand", "strike"]


@compiled
def openness(s, h, x, y):
    """0 (marked) to 1 (free) for a player of ``h``'s side at a point."""
    d, _ = nearest_opponent(s, h, x, y)
    return clip((d - 1.0) / 6.0, 0.0, 1.0)


@compiled
def stand(ax, ay, free):
    """How a side stands with the ball at a place and that much room."""
    return worth(ax, ay) * (0.5 + 0.5 * free) + 0.013 * free


@compiled
def cue_given(s, rng, cue, chance, jumpers):
    """A pressing cue appears: the side without the ball may jump on it."""
    d = 1 - s.n[L.OWN]
    t = clock(s)
    if t < s.f[L.T_PRESS] + 2.0 or s.n[L.OUTPH] == L.CPRESS or s.n[L.OUTPH] == L.DTRANS or s.n[L.OUTPH] == L.OSET:
        return
    if rng.random() < chance:
        s.f[L.T_PRESS] = t + 4.0 + 1.5 * rng.random()
        s.f[L.T_CUE] = t
        end_pattern(s, L.PR_PAT, 0)
        s.n[L.PR_PAT] = log_pattern(s, L.T_PRESSJ, d, s.n[L.PRESSER], s.n[L.COVERER], -1, -1)
        s.pat[s.n[L.PR_PAT], L.A_A] = cue
        if s.n[L.OUTPH] == L.MID and s.n[L.INPH] == L.BUILD and s.ball[0] * s.sg[d] > 19.0:
            s.n[L.PRESS_ON] = 1


@compiled
def read_cues(s, rng, h, r, tx, ty):
    """Which cue a pass from ``h`` to ``r`` gives the opponents, if any."""
    k = h // 11
    d = 1 - k
    if s.n[L.INPH] != L.BUILD and s.n[L.INPH] != L.PROG:
        return
    ax0, ax1, ay1 = s.ball[0] * s.sg[k], tx * s.sg[k], ty * s.sg[k]
    if r % 11 == 0:
        cue_given(s, rng, L.C_KEEPER, s.par[d, L.CUE_KEEPER], 3)
    elif ax1 < ax0 - 6.0 and ax1 < 5.0:
        cue_given(s, rng, L.C_BACK, s.par[d, L.CUE_BACK], 3)
    elif abs(ay1) > 24.0 and ax1 < 12.0:
        if rng.random() < s.par[d, L.TRAP] and clock(s) > s.f[L.TRAP_T] and s.n[L.OUTPH] <= L.LOW:
            s.f[L.TRAP_T] = clock(s) + 4.5
            s.f[L.T_PRESS] = clock(s) + 4.5
            end_pattern(s, L.TRAP_PAT, 0)
            s.n[L.TRAP_PAT] = log_pattern(s, L.T_TRAP, d, s.n[L.PRESSER], s.n[L.COVERER], r, -1)
        else:
            cue_given(s, rng, L.C_FULLBACK, s.par[d, L.CUE_FB], 2)
    elif s.q[r, L.LINE] == 2 and s.w[r, L.HEAD_X] * s.sg[k] < -0.3:
        cue_given(s, rng, L.C_FACING, s.par[d, L.CUE_FACING], 2)


@compiled
def plan_combination(s, rng, h, r, tx, ty):
    """A pass into a marked man may be played to be laid off: to a third man, or back to the passer on the run."""
    k = h // 11
    t = clock(s)
    if s.n[L.CMB_KIND] > 0 or h % 11 == 0 or r % 11 == 0:
        return
    ax, rx = s.ball[0] * s.sg[k], tx * s.sg[k]
    if rx < ax + 2.0 or rx < -25.0 or rng.random() > s.c[L.C_COMBI] * s.par[k, L.COMBI]:
        return
    dist = math.sqrt((tx - s.ball[0]) ** 2 + (ty - s.ball[1]) ** 2)
    if dist > 24.0:
        return
    best, who, kind = 0.28, -1, 0
    for j in range(11 * k + 1, 11 * k + 11):
        if j == r or s.q[j, L.ON] == 0:
            continue
        jx = s.pos[j, 0] + 1.0 * s.vel[j, 0]
        jy = s.pos[j, 1] + 1.0 * s.vel[j, 1]
        if j == h:
            jx, jy = s.pos[j, 0] + 7.0 * s.sg[k], s.pos[j, 1]
            if dist > 15.0:
                continue
        d2 = math.sqrt((jx - tx) ** 2 + (jy - ty) ** 2)
        if d2 < 4.0 or d2 > 20.0 or jx * s.sg[k] < ax - 1.0:
            continue
        free, _ = nearest_opponent(s, h, jx, jy)
        v = lane_chance(s, k, r, j, tx, ty, jx, jy, 12.0, False) * clip(free / 5.0, 0.2, 1.0)
        if j == h:
            v *= 1.25
        if v > best:
            best, who, kind = v, j, (2 if j == h else 1)
    if who < 0:
        return
    s.n[L.CMB_KIND] = kind
    s.n[L.CMB_A], s.n[L.CMB_B], s.n[L.CMB_C] = h, r, who
    s.f[L.CMB_T] = t
    if kind == 1:
        s.n[L.CMB_PAT] = log_pattern(s, L.T_THIRD, k, h, r, who, -1)
    else:
        s.n[L.CMB_PAT] = log_pattern(s, L.T_ONETWO, k, h, r, -1, -1)
    s.w[who, L.RUN_UNTIL] = t + 2.4
    s.w[who, L.RUN_X] = s.pos[who, 0] + 9.0 * s.sg[k]
    s.w[who, L.RUN_Y] = s.pos[who, 1] + 0.2 * (ty - s.pos[who, 1])


@compiled
def strike(s, rng, h, j, tx, ty, loft, detail, sp, body):
    """Play the chosen pass and remember what was meant by it."""
    k = h // 11
    t = clock(s)
    x0, y0 = s.ball[0], s.ball[1]
    dist = math.sqrt((tx - x0) ** 2 + (ty - y0) ** 2)
    ax0, ax1 = x0 * s.sg[k], tx * s.sg[k]
    if sp == L.R_NONE and not loft:
        plan = s.n[L.CMB_KIND] == 0
        if plan:
            plan_combination(s, rng, h, j, tx, ty)
    if sp == L.R_NONE:
        read_cues(s, rng, h, j, tx, ty)
    speed = ground_speed(dist)
    if detail == L.D_THROUGH:
        speed = min(17.0, math.sqrt(16.0 + 3.6 * dist) + 0.8)
    if s.n[L.CMB_KIND] > 0 and h == s.n[L.CMB_B]:
        speed = max(8.0, speed * 0.85)
    d = 1 - k
    mid_line, back_line = -line_of(s, d, 2), -line_of(s, d, 1)
    play_pass(s, rng, h, j, tx, ty, speed, loft, detail, sp, body)
    if abs(ty - y0) > 30.0 and abs(ty) > 14.0 and sp == L.R_NONE:
        r = log_pattern(s, L.T_SWITCH, k, h, j, -1, -1)
        s.pat[r, L.A_F1] = s.n[L.FRAME] + int(25 * (dist / 15.0))
    if detail == L.D_CROSS or detail == L.D_CUTBACK:
        r = log_pattern(s, L.T_CROSS, k, h, j, -1, -1)
        s.pat[r, L.A_F1] = s.n[L.FRAME] + int(25 * (dist / 17.0))
    if detail == L.D_LONG and ax1 > ax0 + 15.0:
        end_pattern(s, L.LB_PAT, 0)
        s.n[L.LB_PAT] = log_pattern(s, L.T_LONG, k, h, j, -1, -1)
        s.pat[s.n[L.LB_PAT], L.A_A] = -1
        s.pat[s.n[L.LB_PAT], L.A_B] = -1
        s.n[L.LB_STAGE] = 0
        s.f[L.LB_T] = t
    if detail == L.D_THROUGH:
        r = log_pattern(s, L.T_BEHIND, k, j, h, -1, -1)
        s.pat[r, L.A_F1] = s.n[L.FRAME] + 50
    if (
        sp == L.R_NONE
        and not loft
        and mid_line + 1.0 < ax1 < back_line - 1.0
        and abs(ty) < 22.0
        and back_line - mid_line > 4.0
        and ax0 < mid_line
    ):
        s.n[L.BETW_PAT] = log_pattern(s, L.T_BETWEEN, k, j, h, -1, -1)
    # a safe ball back or square by a side that has been told to keep it settles the side
    if s.n[L.INPH] == L.ATRANS and ax1 < ax0 + 1.5 and t - s.f[L.T_IN] > 1.0:
        if s.n[L.SETTLE] == 1:
            s.f[L.SETTLE_T] = min(s.f[L.SETTLE_T], t + 0.9)
        elif t - s.f[L.T_IN] > 2.5:
            s.n[L.SETTLE] = 1
            s.f[L.SETTLE_T] = t + 1.3
