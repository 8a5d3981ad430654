"""What a player sees: distances, lanes, lines, the offside line, the worth of a place."""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled

__all__ = ["clock", "lane_chance", "log_event", "log_pattern", "nearest_opponent", "offside_line", "worth"]


@compiled
def clock(s):
    """Seconds from the start of the period."""
    return s.n[L.FRAME] * L.DT


@compiled
def log_event(s, kind, team, i, x, y):
    """Write an event of player slot ``i`` and return its row."""
    e = s.n[L.N_EV]
    if e >= L.MAX_EV:
        return e - 1
    s.n[L.N_EV] = e + 1
    row = s.ev[e]
    row[:] = 0.0
    row[L.E_FRAME] = s.n[L.FRAME]
    row[L.E_KIND] = kind
    row[L.E_TEAM] = team
    row[L.E_PLAYER] = s.q[i, L.PID] if i >= 0 else -1
    row[L.E_RECV] = -1
    row[L.E_SUCC] = -1
    row[L.E_X] = x
    row[L.E_Y] = y
    row[L.E_EX] = math.nan
    row[L.E_EY] = math.nan
    row[L.E_END] = -1
    row[L.E_REL] = -1
    return e


@compiled
def log_pattern(s, kind, team, p1, p2, p3, p4):
    """Write that a pattern was set in motion now; returns its row, so that its end can be added."""
    r = s.n[L.N_PAT]
    if r >= L.MAX_PAT:
        return r - 1
    s.n[L.N_PAT] = r + 1
    row = s.pat[r]
    row[:] = 0.0
    row[L.A_TYPE] = kind
    row[L.A_TEAM] = team
    row[L.A_F0] = s.n[L.FRAME]
    row[L.A_F1] = -1
    k = L.A_P1
    for p in (p1, p2, p3, p4):
        row[k] = s.q[p, L.PID] if p >= 0 else -1
        k += 1
    row[L.A_DONE] = -1
    row[L.A_X] = s.ball[0]
    row[L.A_Y] = s.ball[1]
    return r


@compiled
def end_pattern(s, column, done):
    """Close the open pattern remembered in ``World.n[column]``."""
    r = s.n[column]
    if r >= 0:
        s.pat[r, L.A_F1] = s.n[L.FRAME]
        s.pat[r, L.A_DONE] = done
        s.n[column] = -1


@compiled
def dist_to(s, i, x, y):
    """Metres from player ``i`` to a point."""
    return math.sqrt((s.pos[i, 0] - x) ** 2 + (s.pos[i, 1] - y) ** 2)


@compiled
def nearest_opponent(s, i, x, y):
    """Metres from a point to the nearest opponent of player ``i``, and who it is."""
    first = 11 if i < 11 else 0
    best, who = 1e9, -1
    for j in range(first, first + 11):
        if s.q[j, L.ON] == 0:
            continue
        d = (s.pos[j, 0] - x) ** 2 + (s.pos[j, 1] - y) ** 2
        if d < best:
            best, who = d, j
    return math.sqrt(best), who


@compiled
def offside_line(s, k):
    """The second-last opponent in the attacking frame of team ``k`` (never behind the ball or halfway)."""
    last, second = -99.0, -99.0
    first = 11 - 11 * k
    for j in range(first, first + 11):
        if s.q[j, L.ON] == 0:
            continue
        x = s.pos[j, 0] * s.sg[k]
        if x > last:
            second = last
            last = x
        elif x > second:
            second = x
    return max(0.0, max(second, s.ball[0] * s.sg[k]))


@compiled
def line_of(s, k, line):
    """Mean depth of a line of team ``k`` in its own attacking frame."""
    total, count = 0.0, 0
    for j in range(11 * k, 11 * k + 11):
        if s.q[j, L.ON] and s.q[j, L.LINE] == line:
            total += s.pos[j, 0] * s.sg[k]
            count += 1
    return total / max(1, count)


@compiled
def goal_side_count(s, k, ax, pad):
    """How many outfield players of team ``k`` are goal-side of depth ``ax`` (own attacking frame)."""
    count = 0
    for j in range(11 * k + 1, 11 * k + 11):
        if s.q[j, L.ON] and s.pos[j, 0] * s.sg[k] < ax + pad:
            count += 1
    return count


@compiled
def worth(ax, ay):
    """How much a side likes to have the ball at a place (attacking frame): rises towards the goal."""
    dg = math.sqrt((L.HX - ax) ** 2 + (0.85 * ay) ** 2)
    up = (ax + L.HX) / 105.0
    return 0.008 + 0.100 * up * up + 0.26 * math.exp(-dg / 11.0)


@compiled
def lane_chance(s, k, passer, receiver, x0, y0, x1, y1, speed, loft):
    """How likely a ball along a lane gets past the opponents (time each needs to reach the lane)."""
    dist = math.sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2)
    if dist < 0.5:
        return 0.0
    first = 11 - 11 * k
    worst = 9.0
    block = 1.0
    if loft:  # a man right in front may block it before it rises
        for j in range(first, first + 11):
            if s.q[j, L.ON]:
                gx, gy = s.pos[j, 0] - x0, s.pos[j, 1] - y0
                u = (gx * (x1 - x0) + gy * (y1 - y0)) / dist
                off = abs(gx * (y1 - y0) - gy * (x1 - x0)) / dist
                if 0.0 < u < 3.0 and off < 1.2:
                    block = 0.45
    n = 7
    for m in range(1, n + 1):
        u = m / n
        if loft and u < 0.86:
            continue
        x, y = x0 + (x1 - x0) * u, y0 + (y1 - y0) * u
        tb = u * dist / (speed * (1.0 - 0.10 * u))
        own = 9.0
        if receiver >= 0 and u > 0.7:
            own = 0.1 + max(0.0, dist_to(s, receiver, x, y) - 0.7) / 6.5
        for j in range(first, first + 11):
            if s.q[j, L.ON] == 0:
                continue
            gx = s.pos[j, 0] + 0.25 * s.vel[j, 0] - x
            gy = s.pos[j, 1] + 0.25 * s.vel[j, 1] - y
            d = math.sqrt(gx * gx + gy * gy)
            t = 0.22 + max(0.0, d - 0.8) / 6.3
            lead = t - max(tb, min(own, tb + 0.6) if u > 0.95 else tb)
            if lead < worst:
                worst = lead
    return block / (1.0 + math.exp(-(worst - 0.10) / 0.17))
