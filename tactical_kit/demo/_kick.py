"""Striking the ball: passes on the ground and in the air, crosses, shots, clearances, throws."""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled
from ._space import clock, dist_to, end_pattern, log_event, nearest_opponent, offside_line

__all__ = ["end_carry", "ground_speed", "play_clearance", "play_pass", "play_shot", "pressure_on", "shot_mood"]


@compiled
def pressure_on(s, i):
    """0 when nobody is near player ``i``, 1 when an opponent is on top of him."""
    d, _ = nearest_opponent(s, i, s.pos[i, 0], s.pos[i, 1])
    return max(0.0, min(1.0, (4.2 - d) / 3.2))


@compiled
def ground_speed(dist):
    """How hard a ground pass of that length is struck, m/s."""
    return min(20.0, math.sqrt(58.0 + 3.9 * dist) + 1.2)


@compiled
def end_carry(s):
    """Close the spell of the man on the ball: write a carry when he moved it at least three metres."""
    i = s.n[L.CTL]
    if i < 0:
        return
    x0, y0 = s.f[L.CTL_X], s.f[L.CTL_Y]
    x1, y1 = s.ball[0], s.ball[1]
    if math.sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2) >= 3.0:
        e = log_event(s, L.K_CARRY, i // 11, i, x0, y0)
        s.ev[e, L.E_FRAME] = round(s.f[L.T_CTL] / L.DT)
        s.ev[e, L.E_EX], s.ev[e, L.E_EY] = x1, y1
        s.ev[e, L.E_END] = s.n[L.FRAME]
    end_pattern(s, L.CB_PAT, 1)


@compiled
def mark_offside(s, k, kicker, free):
    """Remember who stood in an offside position when the ball was played (Law 11)."""
    line = offside_line(s, k)
    for j in range(22):
        s.q[j, L.OFF] = 0
    if free:
        return
    for j in range(11 * k, 11 * k + 11):
        if s.q[j, L.ON] and j != kicker and s.pos[j, 0] * s.sg[k] > line + 0.05:
            s.q[j, L.OFF] = 1


@compiled
def leave_foot(s, h):
    """The ball leaves player ``h``: he is no longer in control and may not touch it again at once."""
    end_carry(s)
    s.n[L.CTL] = -1
    s.n[L.LAST] = h
    s.n[L.LAST_TOUCH_TEAM] = h // 11
    s.f[L.T_KICK] = clock(s)
    s.f[L.PASS_X0], s.f[L.PASS_Y0] = s.ball[0], s.ball[1]
    s.w[h, L.NOTOUCH] = clock(s) + 0.55
    s.n[L.LOOSE] = 0
    s.n[L.CUR_SHOT] = -1


@compiled
def play_pass(s, rng, h, r, tx, ty, speed, loft, detail, sp, body):
    """Player ``h`` plays the ball to a point meant for ``r``; returns the event's row."""
    k = h // 11
    press = pressure_on(s, h)
    leave_foot(s, h)
    x0, y0 = s.ball[0], s.ball[1]
    dx, dy = tx - x0, ty - y0
    dist = math.sqrt(dx * dx + dy * dy) + 1e-6
    skill = s.att[h, L.PASS]
    sd = s.c[L.C_PASSERR] * (0.026 + 0.058 * press) * (1.55 - skill)
    if loft:
        sd = sd * 0.85 + 0.026
    if sp != L.R_NONE:
        sd *= 0.7
    ang = math.atan2(dy, dx) + sd * rng.standard_normal()
    s.n[L.RECV] = r
    s.f[L.PASS_ANG] = ang
    s.f[L.TGT_X], s.f[L.TGT_Y] = tx, ty
    if loft:
        far = dist * (1.0 + (0.045 + 0.03 * press) * rng.standard_normal())
        if body == L.B_HANDS:
            flight = 0.35 + far / 17.0
        elif detail == L.D_CROSS:
            flight = 0.50 + far / 21.0
        else:
            flight = 0.75 + far / 23.0
        far *= 1.0 + 0.00275 * far
        v = far / flight
        s.ball[3], s.ball[4] = v * math.cos(ang), v * math.sin(ang)
        s.ball[5] = 0.5 * 9.81 * flight - s.ball[2] / flight
    else:
        v = speed * (1.0 + 0.05 * rng.standard_normal())
        v = max(4.0, min(24.0, v))
        s.ball[3], s.ball[4], s.ball[5] = v * math.cos(ang), v * math.sin(ang), 0.0
    e = log_event(s, L.K_PASS, k, h, x0, y0)
    s.ev[e, L.E_DETAIL] = detail
    s.ev[e, L.E_SP] = sp
    s.ev[e, L.E_BODY] = body
    s.n[L.CUR_PASS] = e
    s.n[L.PASS_SP] = sp
    free = sp == L.R_THROW or sp == L.R_GOALKICK or sp == L.R_CORNER
    mark_offside(s, k, h, free)
    s.n[L.PREV_FROM] = h
    return e


@compiled
def play_shot(s, rng, h, sp, head):
    """Player ``h`` shoots; the keeper's chance is settled by how far and how soon he must go."""
    k = h // 11
    d = 1 - k
    press = pressure_on(s, h)
    leave_foot(s, h)
    s.n[L.RECV] = -1
    s.n[L.CUR_PASS] = -1
    x0, y0 = s.ball[0], s.ball[1]
    ax, ay = x0 * s.sg[k], y0 * s.sg[k]
    dist = math.sqrt((L.HX - ax) ** 2 + ay**2)
    skill = s.att[h, L.SHOT]
    gk = 11 * d
    # aims inside the post away from the keeper
    side = 1.0 if s.pos[gk, 1] * s.sg[k] < 0.12 * ay else -1.0
    if rng.random() < 0.25:
        side = -side
    aim = side * (2.3 + 1.1 * rng.random())
    sd = (s.c[L.C_SHOTSD] + 0.060 * press) * (1.5 - skill) * (1.45 if head else 1.0)
    if sp == L.R_PEN:
        sd = 0.05
    ang = math.atan2(aim - ay, L.HX - ax) + sd * rng.standard_normal()
    v = (20.0 + 7.0 * rng.random()) if not head else (12.0 + 4.0 * rng.random())
    t = dist / v
    height = abs(0.8 + (0.75 + 0.050 * dist) * rng.standard_normal())
    if sp == L.R_PEN:
        height = abs(0.7 + 0.5 * rng.standard_normal())
    vz = (height - s.ball[2]) / t + 0.5 * 9.81 * t
    vz = max(-3.0, min(9.0, vz))
    drag = 1.0 + 0.00275 * dist
    wx, wy = v * drag * math.cos(ang) * s.sg[k], v * drag * math.sin(ang) * s.sg[k]
    s.ball[3], s.ball[4], s.ball[5] = wx, wy, vz
    # where it crosses the goal line (y in the attacking frame, z)
    cross_t = (L.HX - ax) / max(1e-6, v * math.cos(ang))
    cy = ay + v * math.sin(ang) * cross_t
    cz = s.ball[2] + vz * cross_t - 0.5 * 9.81 * cross_t * cross_t
    e = log_event(s, L.K_SHOT, k, h, x0, y0)
    s.ev[e, L.E_SP] = sp
    s.ev[e, L.E_DETAIL] = L.D_HEADER if head else L.D_NONE
    s.ev[e, L.E_BODY] = L.B_HEAD if head else (L.B_RIGHT if rng.random() < 0.7 else L.B_LEFT)
    s.ev[e, L.E_EX], s.ev[e, L.E_EY] = L.HX * s.sg[k], cy * s.sg[k]
    s.n[L.CUR_SHOT] = e
    s.f[L.SHOT_Y], s.f[L.SHOT_Z] = cy * s.sg[k], cz
    s.f[L.SHOT_T] = clock(s)
    s.n[L.SHOTS0 + k] += 1
    on = abs(cy) < 3.66 and cz < 2.44
    s.n[L.SHOT_WILL] = 0
    if on:
        need = abs(s.pos[gk, 1] * s.sg[k] - cy) * 0.85
        reach = 0.85 + 3.3 * max(0.0, cross_t - 0.16)
        z = (reach - need) / 0.75 + 1.1 * (s.att[gk, L.KEEP] - 0.5)
        chance = 0.94 / (1.0 + math.exp(-1.35 * z - s.c[L.C_SAVE]))
        if sp == L.R_PEN:
            chance = 0.20
        s.n[L.SHOT_WILL] = 1 if rng.random() < chance else 2
    s.n[L.PASS_SP] = sp
    mark_offside(s, k, h, False)
    return e


@compiled
def shot_mood(s, k):
    """Evens out a match: a side shoots more readily when it has shot little so far, less when much."""
    want = 13.8 * (clock(s) + (s.n[L.PERIOD] - 1) * 2790.0) / 5640.0
    return max(0.1, min(2.6, 1.0 + 0.6 * (want - s.n[L.SHOTS0 + k])))


@compiled
def corner_mood(s):
    """Evens out a match: defenders put more behind when there have been few corners, fewer when many."""
    want = 10.0 * (clock(s) + (s.n[L.PERIOD] - 1) * 2790.0) / 5640.0
    return max(0.25, min(3.0, 1.0 + 0.45 * (want - s.n[L.CORNERS])))


@compiled
def play_clearance(s, rng, h, head):
    """Player ``h`` gets the ball away, up the pitch and out wide, without a receiver in mind."""
    k = h // 11
    leave_foot(s, h)
    s.n[L.CUR_PASS] = -1
    s.n[L.RECV] = -1
    x0, y0 = s.ball[0], s.ball[1]
    ax, ay = x0 * s.sg[k], y0 * s.sg[k]
    side = 1.0 if ay > 0 else -1.0
    ang = side * (0.25 + 0.75 * rng.random())
    if ax < -41.0 and abs(ay) > 3.0 and rng.random() < s.c[L.C_BEHIND] * corner_mood(s):
        ang = side * (1.75 + 0.6 * rng.random())  # behind for a corner
    far = (11.0 + 9.0 * rng.random()) if head else (24.0 + 20.0 * rng.random())
    flight = 0.6 + far / 22.0
    v = far / flight
    s.ball[3] = v * math.cos(ang) * s.sg[k]
    s.ball[4] = v * math.sin(ang) * s.sg[k]
    s.ball[5] = 0.5 * 9.81 * flight - s.ball[2] / flight
    e = log_event(s, L.K_CLEAR, k, h, x0, y0)
    s.ev[e, L.E_BODY] = L.B_HEAD if head else L.B_RIGHT
    s.n[L.LOOSE] = 1
    mark_offside(s, k, h, False)
    return e


@compiled
def nearest_mate(s, h, x, y):
    """The team-mate of ``h`` nearest to a point (not himself), and how far he is from it."""
    k = h // 11
    best, who = 1e9, -1
    for j in range(11 * k + 1, 11 * k + 11):
        if j != h and s.q[j, L.ON]:
            c = dist_to(s, j, x, y)
            if c < best:
                best, who = c, j
    return who, best
