"""Bringing the ball under control, or not: gains, deflections, headers, the offside flag."""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled
from ._kick import corner_mood, play_clearance, play_pass, play_shot, shot_mood
from ._mind import take_control
from ._phase import possession_won
from ._referee import award, close_pass
from ._space import clock, dist_to, end_pattern, log_event

__all__ = ["deflect", "gain", "head_ball", "offside_given"]


@compiled
def long_ball_stage(s, k, first):
    """Note who won the first and the second ball of a long pass."""
    r = s.n[L.LB_PAT]
    if r < 0:
        return
    if first and s.pat[r, L.A_A] < 0:
        s.pat[r, L.A_A] = k
        s.n[L.LB_STAGE] = 1
    elif not first:
        if s.pat[r, L.A_A] < 0:
            s.pat[r, L.A_A] = k
        s.pat[r, L.A_B] = k
        end_pattern(s, L.LB_PAT, 1 if k == int(s.pat[r, L.A_TEAM]) else 0)


@compiled
def offside_given(s, rng, i):
    """True when ``i`` was in an offside position when his side last played the ball: the flag goes up."""
    k = i // 11
    if s.q[i, L.OFF] == 0 or s.n[L.LAST_TOUCH_TEAM] != k:
        return False
    e0 = s.n[L.CUR_PASS]
    close_pass(s, i, 0, L.O_OFFSIDE)
    e = log_event(s, L.K_OFFSIDE, k, i, s.ball[0], s.ball[1])
    s.ev[e, L.E_REL] = e0
    award(s, rng, L.R_FREE, 1 - k, s.ball[0], s.ball[1])
    return True


@compiled
def gain(s, rng, i, kind, hands):
    """Player ``i`` brings the ball under control."""
    k = i // 11
    t = clock(s)
    turned = k != s.n[L.OWN]
    if s.n[L.BETW_PAT] >= 0:
        r = s.n[L.BETW_PAT]
        s.pat[r, L.A_F1] = s.n[L.FRAME]
        s.pat[r, L.A_DONE] = 1 if s.pat[r, L.A_P1] == s.q[i, L.PID] else 0
        s.n[L.BETW_PAT] = -1
    if s.n[L.CUR_PASS] >= 0:
        if k == int(s.ev[s.n[L.CUR_PASS], L.E_TEAM]):
            close_pass(s, i, 1, L.O_COMPLETE)
            kind = -1
        else:
            close_pass(s, i, 0, L.O_INTER)
    if kind >= 0:
        e = log_event(s, kind, k, i, s.ball[0], s.ball[1])
        s.ev[e, L.E_SUCC] = 1 if kind != L.K_CLAIM else -1
        s.ev[e, L.E_BODY] = L.B_HANDS if hands else L.B_NONE
    long_ball_stage(s, k, False)
    for j in range(22):
        s.q[j, L.OFF] = 0
    s.n[L.LAST] = i
    s.n[L.LAST_TOUCH_TEAM] = k
    if turned:
        possession_won(s, rng, k, i)
        s.n[L.PREV_FROM] = -1
    take_control(s, rng, i)
    if hands:
        s.n[L.HANDS] = 1
    if turned and hands:
        s.f[L.T_DECIDE] = t + 1.5 + 4.0 * rng.random()


@compiled
def deflect(s, rng, i, strength):
    """The ball comes off player ``i`` and runs loose."""
    k = i // 11
    if s.n[L.CUR_PASS] >= 0:
        same = k == int(s.ev[s.n[L.CUR_PASS], L.E_TEAM])
        close_pass(s, i if same else -1, 1 if same else 0, L.O_COMPLETE if same else L.O_BLOCKED)
    s.n[L.LAST] = i
    s.n[L.LAST_TOUCH_TEAM] = k
    s.n[L.RECV] = -1
    s.n[L.LOOSE] = 1
    for j in range(22):
        s.q[j, L.OFF] = 0
    v = math.sqrt(s.ball[3] ** 2 + s.ball[4] ** 2)
    ang = math.atan2(s.ball[4], s.ball[3]) + strength * rng.standard_normal()
    v = min(9.0, v * (0.25 + 0.3 * rng.random()) + 1.0)
    s.ball[3], s.ball[4] = v * math.cos(ang), v * math.sin(ang)
    s.ball[5] = min(2.5, abs(s.ball[5]) * 0.3)
    s.w[i, L.NOTOUCH] = clock(s) + 0.35
    ax = s.ball[0] * s.sg[k]
    if ax < -34.0 and k != s.n[L.OWN] and rng.random() < s.c[L.C_TURN] * corner_mood(s):  # turned behind
        back, side = 7.0 + 2.0 * rng.random(), 2.0 + 5.0 * rng.random()
        clear = (5.5 - abs(s.ball[1])) / max(0.15, (L.HX + ax) / back)  # sideways speed that misses the own goal
        if clear < 13.0:
            s.ball[3] = -back * s.sg[k]
            s.ball[4] = max(side, clear) * (1.0 if s.ball[1] > 0 else -1.0)
            s.w[i, L.NOTOUCH] = clock(s) + 1.5


@compiled
def head_ball(s, rng, i, contested):
    """Player ``i`` meets a high ball."""
    k = i // 11
    ax, ay = s.ball[0] * s.sg[k], s.ball[1] * s.sg[k]
    mine = s.n[L.CUR_PASS] >= 0 and k == int(s.ev[s.n[L.CUR_PASS], L.E_TEAM])
    if mine and offside_given(s, rng, i):
        return
    close_pass(s, i if mine else -1, 1 if mine else 0, L.O_COMPLETE if mine else L.O_INTER)
    long_ball_stage(s, k, True)
    s.n[L.LAST_TOUCH_TEAM] = k
    dist = math.sqrt((L.HX - ax) ** 2 + ay * ay)
    if k == s.n[L.OWN] and ax > 37.0 and dist < 15.0 and rng.random() < 0.85 * min(1.0, shot_mood(s, k)):
        play_shot(s, rng, i, L.R_NONE, True)
        return
    if (ax < -24.0 and k != s.n[L.OWN]) or (ax < -38.0):
        play_clearance(s, rng, i, True)
        return
    # on to a team-mate, or just forward
    best, who = 1e9, -1
    for j in range(11 * k + 1, 11 * k + 11):
        if j != i and s.q[j, L.ON]:
            c = dist_to(s, j, s.ball[0] + 4.0 * s.sg[k], s.ball[1])
            if c < best and dist_to(s, j, s.ball[0], s.ball[1]) > 3.0:
                best, who = c, j
    if who >= 0 and best < 14.0:
        spread = 2.8 if contested else 1.4
        tx = s.pos[who, 0] + spread * rng.standard_normal()
        ty = s.pos[who, 1] + spread * rng.standard_normal()
        play_pass(s, rng, i, who, tx, ty, 9.0, False, L.D_HEADER, L.R_NONE, L.B_HEAD)
        s.ball[5] = 0.5
        s.n[L.LOOSE] = 1 if contested else 0
        return
    deflect(s, rng, i, 0.8)
