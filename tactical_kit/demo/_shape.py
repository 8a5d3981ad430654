"""Where everybody should be: shapes with and without the ball, pressing, marking, running, chasing."""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled
from ._space import clock, dist_to, nearest_opponent, offside_line

__all__ = ["place_everyone", "shape_with_ball", "shape_without_ball"]


@compiled
def clip(v, lo, hi):
    """Hold a number between two limits."""
    return max(lo, min(hi, v))


@compiled
def shape_without_ball(s, d, ph, ax, ay):
    """Places of team ``d`` in its block for a ball at (ax, ay), its own attacking frame; into ``World.base``."""
    length, width = s.par[d, L.BLEN], s.par[d, L.BWID]
    if ph == L.DTRANS or ph == L.CPRESS or ph == L.OSET:
        ph = L.LOW if ax < -14.0 or (s.par[d, L.LOW_SPELL] > 0.5 and ax < 10.0) else L.MID
    if ph == L.LOW:
        home = -L.HX + s.par[d, L.LOW_LINE]
        line = clip(ax - 14.0, home - 6.0, home + 4.0)
        length, width = min(length, 21.0), width * 0.95
    elif ph == L.MID:
        home = -L.HX + s.par[d, L.MID_LINE]
        line = clip(home + 0.30 * (clip(ax, -18.0, 25.0) - 6.0), -25.0, -6.0)
    else:
        line = clip(ax - 34.0, -13.0, -L.HX + s.par[d, L.HIGH_LINE])
        length, width = clip(ax - line + 3.0, 27.0, 40.0), width * 1.12
    line = min(line, ax - 1.5)
    line = max(line, -47.0)
    shift = clip(0.55 * ay, -15.0, 15.0)
    for m in range(11):
        i = 11 * d + m
        depth, side = s.tpl[d, 2, m, 0], s.tpl[d, 2, m, 1]
        if m == 0:
            if ph == L.LOW or ax < -20.0:
                dx, dy = ax + L.HX, ay
                dist = math.sqrt(dx * dx + dy * dy) + 1e-6
                out = clip(0.16 * dist, 1.2, 5.0)
                gx, gy = -L.HX + out * dx / dist, out * dy / dist
            else:
                gx, gy = -L.HX + clip(4.0 + 0.33 * (line + L.HX), 4.0, 19.0), 0.12 * ay
        else:
            gx = line + depth * length
            gy = clip(shift + side * width * 0.5, -32.5, 32.5)
        s.base[i, 0] = gx * s.sg[d]
        s.base[i, 1] = gy * s.sg[d]


@compiled
def shape_with_ball(s, k, ph, ax, ay):
    """Places of team ``k`` in possession for a ball at (ax, ay), its own attacking frame; into ``World.base``."""
    off = offside_line(s, k)
    half = s.par[k, L.WIDTH] * 0.5
    if ph == L.BUILD:
        back = clip(ax - 5.0, -40.0, -17.0)
        front = min(clip(back + 50.0, 4.0, 25.0), off - 0.8)
        shape = 0
    elif ph == L.FINAL or (ph == L.ISET and ax > 10.0):
        back = clip(ax - 34.0, -8.0, 8.0)
        front = min(clip(ax + 18.0, 30.0, 44.0), off - 0.5)
        shape = 1
    elif ph == L.ATRANS:
        back = clip(ax - 20.0, -36.0, -2.0)
        front = min(clip(ax + 28.0, 2.0, 42.0), off - 0.6)
        shape = 1
    else:
        back = clip(ax - 19.0, -32.0, -3.0)
        front = min(clip(ax + 27.0, 10.0, 36.0), off - 0.6)
        shape = 1
    front = max(front, back + 16.0)
    for m in range(11):
        i = 11 * k + m
        depth, side = s.tpl[k, shape, m, 0], s.tpl[k, shape, m, 1]
        if m == 0:
            gx = clip(back - 13.0, -48.5, -24.0) if ph != L.BUILD else clip(ax - 9.0, -48.5, -36.0)
            gy = 0.15 * ay
        else:
            gx = back + depth * (front - back)
            gy = side * half
            if abs(side) < 0.75:
                gy += 0.22 * ay
            gy = clip(gy, -32.0, 32.0)
        s.base[i, 0] = gx * s.sg[k]
        s.base[i, 1] = gy * s.sg[k]


@compiled
def find_support(s, k, i, t):
    """A player off the ball looks for a better spot near his place: open, and with a clear lane to the ball."""
    bx, by = s.ball[0], s.ball[1]
    best, ox, oy = -1e9, 0.0, 0.0
    first = 11 - 11 * k
    for r in range(13):
        rad = 0.0 if r == 0 else (3.5 if r <= 6 else 7.0)
        ang = r * 1.0471975512 + (0.52 if r > 6 else 0.0)
        gx, gy = s.base[i, 0] + rad * math.cos(ang), s.base[i, 1] + rad * math.sin(ang)
        if abs(gx) > 51.0 or abs(gy) > 33.0:
            continue
        d, _ = nearest_opponent(s, i, gx, gy)
        lx, ly = gx - bx, gy - by
        long = math.sqrt(lx * lx + ly * ly) + 1e-6
        lane = 6.0
        for j in range(first, first + 11):
            if s.q[j, L.ON] == 0:
                continue
            u = ((s.pos[j, 0] - bx) * lx + (s.pos[j, 1] - by) * ly) / (long * long)
            if 0.05 < u < 0.97:
                off = abs((s.pos[j, 0] - bx) * ly - (s.pos[j, 1] - by) * lx) / long
                lane = min(lane, off)
        score = min(d, 8.0) + 0.8 * min(lane, 4.0) - 0.25 * rad
        score -= 0.05 * math.sqrt((gx - s.pos[i, 0]) ** 2 + (gy - s.pos[i, 1]) ** 2)
        if long < 7.0:
            score -= (7.0 - long) * 0.8
        for m in range(11 * k, 11 * k + 11):  # not on a team-mate's toes
            if m != i and s.q[m, L.ON]:
                c = (s.pos[m, 0] - gx) ** 2 + (s.pos[m, 1] - gy) ** 2
                if c < 64.0:
                    score -= 0.5 * (8.0 - math.sqrt(c))
        if score > best:
            best, ox, oy = score, gx - s.base[i, 0], gy - s.base[i, 1]
    s.w[i, L.SUP_X] = ox
    s.w[i, L.SUP_Y] = oy


@compiled
def come_short(s, k):
    """The nearest men offer themselves to the man on the ball at ten to thirteen metres."""
    bx, by = s.ball[0], s.ball[1]
    one, two, three = -1, -1, -1
    d1, d2, d3 = 1e9, 1e9, 1e9
    for i in range(11 * k + 1, 11 * k + 11):
        if s.q[i, L.ON] == 0 or i == s.n[L.CTL] or i == s.n[L.RECV]:
            continue
        c = math.sqrt((s.base[i, 0] - bx) ** 2 + (s.base[i, 1] - by) ** 2)
        if c < d1:
            one, two, three, d1, d2, d3 = i, one, two, c, d1, d2
        elif c < d2:
            two, three, d2, d3 = i, two, c, d2
        elif c < d3:
            three, d3 = i, c
    for i, c, want in ((one, d1, 9.5), (two, d2, 11.5), (three, d3, 14.0)):
        if i >= 0 and c > want:
            s.base[i, 0] = bx + (s.base[i, 0] - bx) * want / c
            s.base[i, 1] = by + (s.base[i, 1] - by) * want / c


@compiled
def with_ball_targets(s, rng, k, t):
    """Targets of the side in possession."""
    ax, ay = s.ball[0] * s.sg[k], s.ball[1] * s.sg[k]
    ph = s.n[L.INPH]
    shape_with_ball(s, k, ph, ax, ay)
    off = offside_line(s, k)
    counter = ph == L.ATRANS and s.n[L.SETTLE] == 0
    ctl = s.n[L.CTL]
    if ph == L.PROG or ph == L.FINAL or (ph == L.ATRANS and not counter):
        come_short(s, k)
    for m in range(11):
        i = 11 * k + m
        if s.q[i, L.ON] == 0 or s.q[i, L.LEAVING]:
            continue
        gx, gy = s.base[i, 0], s.base[i, 1]
        if i == ctl:
            s.q[i, L.JOB] = L.J_CARRY
            s.tgt[i, 0], s.tgt[i, 1] = s.f[L.CAR_X], s.f[L.CAR_Y]
            s.cap[i] = s.f[L.CAR_V]
            continue
        s.q[i, L.JOB] = L.J_SHAPE
        if m > 0:
            if t >= s.w[i, L.NEXT_SUP]:
                find_support(s, k, i, t)
                s.w[i, L.NEXT_SUP] = t + 1.2 + 1.2 * rng.random()
            gx += s.w[i, L.SUP_X]
            gy += s.w[i, L.SUP_Y]
            # a forward run behind the line when the man on the ball can see it
            if (
                ctl >= 0
                and ctl // 11 == k
                and s.w[i, L.RUN_UNTIL] < t
                and t - s.f[L.T_CTL] > 0.25
                and (ph == L.PROG or ph == L.FINAL or ph == L.ATRANS)
                and (s.q[i, L.LINE] >= 2 or s.q[i, L.FWD])
            ):
                x = s.pos[i, 0] * s.sg[k]
                wants = 0.05 if s.q[i, L.FWD] else 0.012
                if counter:
                    wants *= 3.0
                wants *= s.c[L.C_RUN] * s.par[k, L.RUNS]
                if off - 9.0 < x < off + 0.3 and x > ax - 3.0 and rng.random() < wants:
                    s.w[i, L.RUN_UNTIL] = t + 2.2
                    y = s.pos[i, 1] * s.sg[k]
                    aim = y * 0.75 + (rng.random() - 0.5) * 8.0
                    s.w[i, L.RUN_X] = min(off + 14.0, 47.0) * s.sg[k]
                    s.w[i, L.RUN_Y] = clip(aim, -30.0, 30.0) * s.sg[k]
            if s.w[i, L.RUN_UNTIL] > t:
                s.q[i, L.JOB] = L.J_RUN
                s.tgt[i, 0], s.tgt[i, 1] = s.w[i, L.RUN_X], s.w[i, L.RUN_Y]
                s.cap[i] = 0.93 * s.att[i, L.PACE]
                continue
            lim = (off - 0.5) * s.sg[k]
            if gx * s.sg[k] > lim * s.sg[k]:
                gx = lim
        dist = dist_to(s, i, gx, gy)
        if counter and s.q[i, L.LINE] >= 2:
            cap = clip(2.0 + 0.40 * dist, 1.5, 7.6)
        elif counter:
            cap = clip(1.5 + 0.25 * dist, 1.2, 5.0)
        else:
            cap = clip(0.75 + s.c[L.C_WITH] * dist, 0.8, 4.6)
            if dist < 1.5:
                cap = 0.9
        s.tgt[i, 0], s.tgt[i, 1], s.cap[i] = gx, gy, cap


@compiled
def pick_pressers(s, d, t):
    """Who goes to the ball and who covers behind him; changes only when another is clearly nearer."""
    bx, by = s.ball[0], s.ball[1]
    goal_x = -L.HX * s.sg[d]
    old = s.n[L.PRESSER]
    best, who, second, who2 = 1e9, -1, 1e9, -1
    for i in range(11 * d + 1, 11 * d + 11):
        if s.q[i, L.ON] == 0 or s.w[i, L.STUN] > 0.0 or s.q[i, L.LEAVING]:
            continue
        c = dist_to(s, i, bx + s.ball[3] * 0.3, by + s.ball[4] * 0.3)
        if (s.pos[i, 0] - bx) * (goal_x - bx) < 0.0:  # behind the ball carrier: he comes late
            c += 3.0
        if i == old:
            c -= 2.5
        if c < best:
            best, who, second, who2 = c, i, best, who
        elif c < second:
            second, who2 = c, i
    s.n[L.PRESSER] = who
    s.n[L.COVERER] = who2


@compiled
def goal_side_of(s, d, j, gap):
    """A point ``gap`` metres from opponent ``j`` towards the goal that team ``d`` defends."""
    x, y = s.pos[j, 0] + 0.3 * s.vel[j, 0], s.pos[j, 1] + 0.3 * s.vel[j, 1]
    dx, dy = -L.HX * s.sg[d] - x, -y
    long = math.sqrt(dx * dx + dy * dy) + 1e-6
    return x + gap * dx / long, y + gap * dy / long


@compiled
def without_ball_targets(s, rng, d, t):
    """Targets of the side without the ball."""
    k = 1 - d
    ax, ay = s.ball[0] * s.sg[d], s.ball[1] * s.sg[d]
    ph = s.n[L.OUTPH]
    shape_without_ball(s, d, ph, ax, ay)
    ctl = s.n[L.CTL]
    held = ctl >= 0 and ctl // 11 == k
    keeper_hands = held and ctl % 11 == 0 and abs(s.pos[ctl, 0]) > 36.0
    pick_pressers(s, d, t)
    jump = t < s.f[L.T_PRESS]
    trap = t < s.f[L.TRAP_T]
    engage = False
    n_hunt = 0
    if ph == L.HIGH:
        engage = True
    elif ph == L.MID:
        engage = ax < s.par[d, L.ENGAGE] or jump
    elif ph == L.LOW:
        engage = ax < -8.0 or jump
    elif ph == L.CPRESS:
        engage, n_hunt = True, 4 if s.par[d, L.CPRESS_P] > 0.6 else 3
    elif ph == L.OSET:
        engage = ax < -10.0
    elif ph == L.DTRANS:
        engage = True
    if keeper_hands and ph != L.HIGH:
        engage = False
    for m in range(11):
        i = 11 * d + m
        if s.q[i, L.ON] == 0 or s.q[i, L.LEAVING]:
            continue
        gx, gy = s.base[i, 0], s.base[i, 1]
        s.q[i, L.JOB] = L.J_SHAPE
        dist = dist_to(s, i, gx, gy)
        cap = clip(0.6 + s.c[L.C_WITHOUT] * dist, 0.8, 5.0)
        if dist < 1.0:
            cap = 0.9
        if ph == L.DTRANS or (ph == L.LOW and dist > 9.0):
            cap = clip(1.5 + 0.38 * dist, 1.5, 7.3)
        elif ph == L.HIGH:
            cap = clip(1.0 + 0.42 * dist, 1.2, 6.4)
        elif ph == L.CPRESS:
            cap = clip(1.2 + 0.3 * dist, 1.2, 5.0)
        if m > 0:
            mark = s.q[i, L.MARK]
            if mark >= 0 and s.q[mark, L.ON]:
                mx, my = goal_side_of(s, d, mark, 1.6 if ph == L.HIGH else 2.2)
                if dist_to(s, mark, gx, gy) < (26.0 if ph == L.HIGH else 15.0):
                    hold = 0.88 if ph == L.HIGH else 0.72
                    gx, gy = gx + hold * (mx - gx), gy + hold * (my - gy)
                    s.q[i, L.JOB] = L.J_MARK
                    cap = clip(1.0 + 0.7 * dist_to(s, i, gx, gy), 1.2, 7.0)
            elif s.q[i, L.LINE] <= 2 and (ph == L.MID or ph == L.LOW or ph == L.DTRANS or ph == L.OSET or ph == L.HIGH):
                # zonal: pick up the opponent nearest to my own place, more tightly near goal
                reach = 6.5 if ax > -18.0 else 8.0
                best, who = reach, -1
                for j in range(11 * k + 1, 11 * k + 11):
                    if s.q[j, L.ON]:
                        c = dist_to(s, j, s.base[i, 0], s.base[i, 1])
                        if c < best:
                            best, who = c, j
                if who >= 0:
                    mx, my = goal_side_of(s, d, who, 1.8)
                    hold = 0.35 if ax > -18.0 else 0.62
                    if s.q[i, L.LINE] == 1:  # the back line keeps its depth
                        ny = gy + hold * (my - gy)
                        nx = gx + 0.25 * hold * (mx - gx)
                        if ax < -28.0:
                            nx = gx + hold * (mx - gx)
                        gx, gy = nx, ny
                    else:
                        gx, gy = gx + hold * (mx - gx), gy + hold * (my - gy)
            # a forward run in behind is followed by the nearest defender
            if s.q[i, L.LINE] == 1:
                for j in range(11 * k + 1, 11 * k + 11):
                    if s.q[j, L.ON] and s.w[j, L.RUN_UNTIL] > t and dist_to(s, i, s.pos[j, 0], s.pos[j, 1]) < 6.0:
                        gx, gy = goal_side_of(s, d, j, 1.5)
                        cap = 0.94 * s.att[i, L.PACE]
            if i == s.n[L.PRESSER] and engage:
                s.q[i, L.JOB] = L.J_PRESS
                if ph == L.DTRANS:  # delay: stay goal-side, do not dive in
                    if held:
                        gx, gy = goal_side_of(s, d, ctl, 2.4)
                    cap = 7.2
                elif held:
                    gx, gy = goal_side_of(s, d, ctl, 0.7)
                    cap = 7.6 if (ph == L.HIGH or jump or ph == L.CPRESS) else 6.0
                else:
                    gx, gy = s.ball[0], s.ball[1]
                    cap = 6.2
                    r = s.n[L.RECV]
                    if r >= 0 and r // 11 == k:
                        gx, gy = goal_side_of(s, d, r, 1.2)
                        cap = 7.2
            elif i == s.n[L.COVERER] and engage and (ax < s.par[d, L.COVER_MEN] or ph == L.HIGH or jump):
                s.q[i, L.JOB] = L.J_COVER
                if held:
                    cx, cy = goal_side_of(s, d, ctl, 5.5)
                    gx, gy = 0.5 * gx + 0.5 * cx, 0.5 * gy + 0.5 * cy
                    cap = max(cap, 5.2)
        s.tgt[i, 0], s.tgt[i, 1], s.cap[i] = gx, gy, cap
    # hunters of a counter-press, jumpers on a cue, and the trap at the touchline: nearest men close the ball
    extra = n_hunt
    if trap:
        extra = max(extra, 3)
    elif jump and (ph == L.MID or ph == L.HIGH):
        extra = max(extra, 2)
    if extra > 0:
        for h in range(extra):
            best, who = 22.0, -1
            for i in range(11 * d + 1, 11 * d + 11):
                if s.q[i, L.ON] and s.q[i, L.JOB] != L.J_HUNT and s.w[i, L.STUN] <= 0.0 and not s.q[i, L.LEAVING]:
                    c = dist_to(s, i, s.ball[0], s.ball[1])
                    if c < best and not (s.q[i, L.LINE] == 1 and h > 1 and s.q[i, L.SIDE] == 0):
                        best, who = c, i
            if who < 0:
                break
            s.q[who, L.JOB] = L.J_HUNT
            hx, hy = s.ball[0] + 0.25 * s.ball[3], s.ball[1] + 0.25 * s.ball[4]
            if h > 0 and held:  # the others come from the sides
                ang = 2.1 * h
                gx, gy = goal_side_of(s, d, ctl, 1.6)
                rx, ry = gx - s.pos[ctl, 0], gy - s.pos[ctl, 1]
                hx = s.pos[ctl, 0] + rx * math.cos(ang) - ry * math.sin(ang)
                hy = s.pos[ctl, 1] + rx * math.sin(ang) + ry * math.cos(ang)
            s.tgt[who, 0], s.tgt[who, 1] = hx, hy
            s.cap[who] = 0.92 * s.att[who, L.PACE]


@compiled
def place_everyone(s, rng):
    """Give every player a target and a top speed for the next fifth of a second."""
    t = clock(s)
    k = s.n[L.OWN]
    without_ball_targets(s, rng, 1 - k, t)
    with_ball_targets(s, rng, k, t)
