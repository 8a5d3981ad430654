"""Playing the ball into play again: throw, goal kick, corner, free kick, penalty, kick-off."""

from __future__ import annotations

import math

from . import _layout as L
from ._combine import openness, stand, strike
from ._compiled import compiled
from ._kick import nearest_mate, play_shot
from ._space import clock, lane_chance, offside_line

__all__ = ["deliver"]


@compiled
def deliver(s, rng, h):
    """The taker restarts play: throw, goal kick, corner, free kick, penalty, kick-off."""
    k = h // 11
    sp = s.n[L.RESTART]
    x0, y0 = s.ball[0], s.ball[1]
    ax, ay = x0 * s.sg[k], y0 * s.sg[k]
    near_goal = ax > 12.5
    s.n[L.CTL] = h
    s.f[L.T_CTL] = clock(s)
    s.f[L.CTL_X], s.f[L.CTL_Y] = x0, y0
    if sp == L.R_PEN:
        play_shot(s, rng, h, sp, False)
        return
    if sp == L.R_KICKOFF:
        back, _ = nearest_mate(s, h, -9.0 * s.sg[k], 0.0)
        strike(s, rng, h, back, s.pos[back, 0], s.pos[back, 1], False, L.D_NONE, sp, L.B_RIGHT)
        return
    if (
        sp == L.R_CORNER
        or (sp == L.R_FREE and near_goal)
        or (sp == L.R_THROW and ax > 33.0 and s.n[L.SP_KIND] == sp and rng.random() < 0.5)
    ):
        dist = math.sqrt((L.HX - ax) ** 2 + ay * ay)
        if sp == L.R_FREE and dist < 27.0 and abs(ay) < 14.0 and rng.random() < 0.7:
            play_shot(s, rng, h, sp, False)
            return
        if sp == L.R_CORNER and rng.random() < s.par[k, L.CORNER_SHORT]:
            j, dj = nearest_mate(s, h, x0, y0)
            if dj < 16.0:
                strike(s, rng, h, j, s.pos[j, 0], s.pos[j, 1], False, L.D_NONE, sp, L.B_RIGHT)
                return
        near = rng.random() < s.par[k, L.CORNER_NEAR]
        side = 1.0 if ay > 0 else -1.0
        zx, zy = 46.5 + 1.5 * rng.standard_normal(), (4.0 if near else -4.5) * side + 1.5 * rng.standard_normal()
        if sp == L.R_THROW:
            zx, zy = min(46.0, ax + 8.0), ay - side * 17.0
        zx = min(zx, 49.0)
        j, _ = nearest_mate(s, h, zx * s.sg[k], zy * s.sg[k])
        det = L.D_CROSS if sp != L.R_THROW else L.D_LONG
        strike(s, rng, h, j, zx * s.sg[k], zy * s.sg[k], True, det, sp, L.B_HANDS if sp == L.R_THROW else L.B_RIGHT)
        return
    best, bj, btx, bty, bloft = -1e9, -1, 0.0, 0.0, False
    short_ok = rng.random() < s.par[k, L.GK_SHORT]
    for j in range(11 * k, 11 * k + 11):
        if j == h or s.q[j, L.ON] == 0:
            continue
        tx, ty = s.pos[j, 0] + 0.5 * s.vel[j, 0], s.pos[j, 1] + 0.5 * s.vel[j, 1]
        if abs(tx) > 51.0 or abs(ty) > 33.2:
            continue
        dist = math.sqrt((tx - x0) ** 2 + (ty - y0) ** 2)
        loft = False
        if sp == L.R_THROW:
            if dist > 23.0 or dist < 3.0 or j % 11 == 0:
                continue
            loft = True
        elif sp == L.R_GOALKICK and not short_ok:
            if tx * s.sg[k] < -8.0 or dist < 35.0 or dist > 66.0:
                continue
            loft = True
        elif dist < 4.0 or dist > 30.0 or (s.pos[j, 0] * s.sg[k] > offside_line(s, k) and sp == L.R_FREE):
            continue
        p = lane_chance(s, k, h, j, x0, y0, tx, ty, 11.0, loft)
        free = openness(s, h, tx, ty)
        ev = p * stand(tx * s.sg[k], ty * s.sg[k], free) - (1 - p) * 0.05 + 0.004 * rng.standard_normal()
        if ev > best:
            best, bj, btx, bty, bloft = ev, j, tx, ty, loft
    det = L.D_NONE
    if bj < 0:
        bj, _ = nearest_mate(s, h, 8.0 * s.sg[k], 12.0)
        btx, bty, bloft = s.pos[bj, 0], s.pos[bj, 1], True
        if sp == L.R_THROW:
            bj, _ = nearest_mate(s, h, x0, y0)
            dx, dy = s.pos[bj, 0] - x0, s.pos[bj, 1] - y0
            dist = math.sqrt(dx * dx + dy * dy)
            u = min(1.0, 20.0 / dist)
            btx, bty = x0 + u * dx, y0 + u * dy
    if bloft and math.sqrt((btx - x0) ** 2 + (bty - y0) ** 2) > 30.0:
        det = L.D_LONG
    strike(s, rng, h, bj, btx, bty, bloft, det, sp, L.B_HANDS if sp == L.R_THROW else L.B_RIGHT)
