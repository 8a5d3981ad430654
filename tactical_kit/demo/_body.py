"""How players and the ball move: capped speed, capped acceleration, roll, flight and bounce.

A standing start is harder than a running one: the forward acceleration a player has left falls with his
speed (after the line through the four means of Sonderegger et al. 2016, a = 5.93 - 0.89 v).
"""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled

__all__ = ["ball_dead_step", "ball_free_step", "ball_held_step", "move_players", "predict_path"]

ROLL = 1.15  # m/s2 lost by a rolling ball (Law 2 turf tests give 0.6-1.5)
GRAVITY = 9.81
BRAKE = 4.6
SIDEWAYS = 4.4
MOST = 6.6


@compiled
def move_players(s):
    """Move everybody one step towards his target within his legs' limits."""
    for i in range(22):
        if s.q[i, L.ON] == 0:
            continue
        vx, vy = s.vel[i, 0], s.vel[i, 1]
        dx = s.tgt[i, 0] - s.pos[i, 0]
        dy = s.tgt[i, 1] - s.pos[i, 1]
        dist = math.sqrt(dx * dx + dy * dy)
        top = s.att[i, L.PACE] * (1.0 - 0.06 * s.w[i, L.TIRED])
        cap = min(s.cap[i], top)
        if s.w[i, L.STUN] > 0.0:
            s.w[i, L.STUN] -= L.DT
            cap = min(cap, 1.2)
        want = min(cap, math.sqrt(2.0 * 2.3 * dist))
        if dist < 0.6:
            want = min(want, dist * 1.6)
        if dist > 1e-6:
            wx, wy = dx / dist * want, dy / dist * want
        else:
            wx, wy = 0.0, 0.0
        urge = min(1.0, 0.30 + 0.8 * cap / top)
        tau = 0.22 + 0.35 * (1.0 - urge)
        ax, ay = (wx - vx) / tau, (wy - vy) / tau
        speed = math.sqrt(vx * vx + vy * vy)
        if speed > 0.15:
            hx, hy = vx / speed, vy / speed
        elif want > 1e-6:
            hx, hy = wx / want, wy / want
        else:
            hx, hy = 1.0, 0.0
        along = ax * hx + ay * hy
        across = -ax * hy + ay * hx
        # the published line ends at 4.2 m/s; beyond it what is left runs out at the top speed
        room = max(s.att[i, L.ACC] - 0.893 * speed, 4.3 * (1.0 - speed / top), 0.05) * urge
        if along > room:
            along = room
        if along < -BRAKE:
            along = -BRAKE
        if speed + along * L.DT > top:
            along = max(-BRAKE, (top - speed) / L.DT)
        if across > SIDEWAYS:
            across = SIDEWAYS
        if across < -SIDEWAYS:
            across = -SIDEWAYS
        total = math.sqrt(along * along + across * across)
        if total > MOST:
            along *= MOST / total
            across *= MOST / total
        s.vel[i, 0] = vx + (along * hx - across * hy) * L.DT
        s.vel[i, 1] = vy + (along * hy + across * hx) * L.DT
        s.pos[i, 0] += s.vel[i, 0] * L.DT
        s.pos[i, 1] += s.vel[i, 1] * L.DT
        s.w[i, L.TIRED] += L.DT * (0.00010 + 0.0005 * max(0.0, speed - 5.0)) * (1.3 - s.att[i, L.STAM])
        if speed > 0.8:
            s.w[i, L.HEAD_X] += 0.18 * (hx - s.w[i, L.HEAD_X])
            s.w[i, L.HEAD_Y] += 0.18 * (hy - s.w[i, L.HEAD_Y])


@compiled
def step_free(b):
    """One step of a ball nobody holds; ``b`` is changed in place."""
    if b[L.BZ] > 0.02 or b[L.BVZ] > 0.3:
        b[L.BVZ] -= GRAVITY * L.DT
        speed = math.sqrt(b[L.BVX] ** 2 + b[L.BVY] ** 2)
        drag = 1.0 - 0.0055 * speed * L.DT
        b[L.BVX] *= drag
        b[L.BVY] *= drag
        b[L.BX] += b[L.BVX] * L.DT
        b[L.BY] += b[L.BVY] * L.DT
        b[L.BZ] += b[L.BVZ] * L.DT
        if b[L.BZ] < 0.0:
            b[L.BZ] = 0.0
            if b[L.BVZ] < -1.2:
                b[L.BVZ] = -0.48 * b[L.BVZ]
                b[L.BVX] *= 0.68
                b[L.BVY] *= 0.68
            else:
                b[L.BVZ] = 0.0
    else:
        b[L.BZ] = 0.0
        b[L.BVZ] = 0.0
        speed = math.sqrt(b[L.BVX] ** 2 + b[L.BVY] ** 2)
        if speed > 1e-9:
            slower = max(0.0, speed - (ROLL + 0.0035 * speed * speed) * L.DT)
            b[L.BVX] *= slower / speed
            b[L.BVY] *= slower / speed
        b[L.BX] += b[L.BVX] * L.DT
        b[L.BY] += b[L.BVY] * L.DT


@compiled
def ball_free_step(s):
    """Roll, fly or bounce one step."""
    step_free(s.ball)


@compiled
def predict_path(s):
    """Where the free ball will be in 0.1, 0.2 ... 4.5 s, if nobody touches it."""
    b = s.ball.copy()
    for k in range(45):
        step_free(b)
        step_free(b)
        if k % 2 == 1:
            step_free(b)
        s.path[k, 0] = b[L.BX]
        s.path[k, 1] = b[L.BY]
        s.path[k, 2] = b[L.BZ]


@compiled
def pull_ball(s, gx, gy, gz, top, accel):
    """Draw the ball towards a point with a capped speed and a capped change of speed."""
    b = s.ball
    dx, dy = gx - b[L.BX], gy - b[L.BY]
    dist = math.sqrt(dx * dx + dy * dy)
    want = min(top, dist / 0.12, math.sqrt(1.2 * accel * dist))
    wx, wy = 0.0, 0.0
    if dist > 1e-9:
        wx, wy = dx / dist * want, dy / dist * want
    cx, cy = wx - b[L.BVX], wy - b[L.BVY]
    c = math.sqrt(cx * cx + cy * cy)
    most = accel * L.DT
    if c > most:
        cx, cy = cx / c * most, cy / c * most
    b[L.BVX] += cx
    b[L.BVY] += cy
    b[L.BX] += b[L.BVX] * L.DT
    b[L.BY] += b[L.BVY] * L.DT
    dz = gz - b[L.BZ]
    dz = max(-3.0 * L.DT, min(3.0 * L.DT, dz))
    b[L.BZ] += dz
    b[L.BVZ] = 0.0


@compiled
def ball_held_step(s, hands):
    """The ball at a player's feet (or in the keeper's hands)."""
    i = s.n[L.CTL]
    reach = 0.35 if hands else 0.55
    gx = s.pos[i, 0] + reach * s.w[i, L.HEAD_X] + s.vel[i, 0] * 0.12
    gy = s.pos[i, 1] + reach * s.w[i, L.HEAD_Y] + s.vel[i, 1] * 0.12
    speed = math.sqrt(s.vel[i, 0] ** 2 + s.vel[i, 1] ** 2)
    pull_ball(s, gx, gy, 1.1 if hands else 0.0, speed + 4.0, 300.0)


@compiled
def ball_dead_step(s, carried):
    """A dead ball: it runs out, then is rolled back to where play restarts."""
    since = s.n[L.FRAME] * L.DT - s.f[L.T_DEAD]
    b = s.ball
    if since < 1.6:
        # runs on, stopped by the boards or the net
        step_free(b)
        lim_x, lim_y = L.HX + 4.5, L.HY + 4.0
        in_net = abs(b[L.BY]) < 3.8 and abs(b[L.BX]) > L.HX and b[L.BZ] < 2.6
        if in_net:
            lim_x = L.HX + 1.7
        for c, lim in ((0, lim_x), (1, lim_y)):
            nxt = b[c] + b[c + 3] * L.DT
            if abs(nxt) > lim and nxt * b[c + 3] > 0:
                b[c + 3] = 0.0
                b[1 - c + 3] *= 0.3
    else:
        pull_ball(s, s.f[L.RX], s.f[L.RY], 1.9 if carried else 0.0, 7.5, 9.0)
