"""What the man on the ball does: carry, pass, combine, switch, cross, shoot, take his man on, clear.

He weighs each way out by how likely it comes off and how much better the side stands afterwards, under
the coach's instructions (tempo, risk, long balls, switches...), and errs a little in the weighing.
"""

from __future__ import annotations

import math

from . import _layout as L
from ._combine import openness, stand, strike
from ._compiled import compiled
from ._kick import end_carry, ground_speed, nearest_mate, play_clearance, play_shot, pressure_on, shot_mood
from ._shape import clip
from ._space import (
    clock,
    dist_to,
    end_pattern,
    lane_chance,
    log_event,
    log_pattern,
    nearest_opponent,
    offside_line,
    worth,
)

__all__ = ["choose_carry", "decide", "poke_loose", "take_control"]


@compiled
def choose_carry(s, rng, h):
    """Which way, and how fast, the man on the ball moves until he plays it."""
    k = h // 11
    x, y = s.pos[h, 0], s.pos[h, 1]
    ax, ay = x * s.sg[k], y * s.sg[k]
    ph = s.n[L.INPH]
    d0, _ = nearest_opponent(s, h, x, y)
    if h % 11 == 0:
        s.f[L.CAR_X], s.f[L.CAR_Y], s.f[L.CAR_V] = x + 1.0 * s.sg[k], y, 1.0
        return
    settle = ph == L.ATRANS and s.n[L.SETTLE] == 1
    best, bx, by, bv = -1e9, x, y, 0.8
    for a in range(9):
        if a == 8:
            gx, gy, score = ax, ay, 0.0
        else:
            ang = a * 0.7853981634
            gx, gy = ax + 6.0 * math.cos(ang), ay + 6.0 * math.sin(ang)
            if abs(gx) > 51.0 or abs(gy) > 33.0:
                continue
            ahead = math.cos(ang)
            score = (0.9 if not settle else -0.5) * ahead
            if ph == L.ATRANS and not settle:
                score += 1.1 * ahead
            if ax > 36.0 and abs(ay) > 10.0 and gy * ay < ay * ay:
                score += 0.3
        dn, _ = nearest_opponent(s, h, gx * s.sg[k], gy * s.sg[k])
        dm, _ = nearest_opponent(s, h, (0.5 * (gx + ax)) * s.sg[k], (0.5 * (gy + ay)) * s.sg[k])
        score += 0.42 * min(7.0, dn) + 0.25 * min(5.0, dm) - 2.8
        score += 0.3 * rng.standard_normal()
        if score > best:
            best, bx, by = score, gx * s.sg[k], gy * s.sg[k]
            bv = 0.6 if a == 8 else 1.0
    if bv > 0.7:
        if ph == L.ATRANS and not settle:
            v = clip(3.5 + 0.35 * d0, 3.5, 6.9)
        elif settle:
            v = 2.0
        elif d0 > 7.0:
            v = 2.6 + 1.4 * rng.random()
        else:
            v = 2.2 + 0.45 * d0 * rng.random() + 0.6
        if s.n[L.CB_PAT] >= 0:
            v = 4.2
    else:
        v = 0.6
    if s.n[L.CB_PAT] >= 0:
        bx, by = x + 8.0 * s.sg[k], y * 0.97
    s.f[L.CAR_X], s.f[L.CAR_Y], s.f[L.CAR_V] = bx, by, v


@compiled
def think_time(s, rng, h, press):
    """Seconds from control to the next decision."""
    k = h // 11
    u = rng.random()
    ph = s.n[L.INPH]
    tempo = s.par[k, L.TEMPO]
    if h % 11 == 0:
        return 1.2 + 2.6 * u if ph != L.BUILD or press < 0.1 else 0.6 + 0.8 * u
    if ph == L.ATRANS and s.n[L.SETTLE] == 0:
        long = 0.35 + 1.1 * u
    elif ph == L.BUILD:
        long = 0.7 + 2.3 * u
    elif ph == L.FINAL:
        long = 0.5 + 1.7 * u
    else:
        long = 0.55 + 1.9 * u
    return (0.30 + (long - 0.30) * (1.0 - 0.72 * press)) * s.c[L.C_THINK] / tempo


@compiled
def take_control(s, rng, h):
    """Player ``h`` has the ball under control: he looks up."""
    k = h // 11
    t = clock(s)
    s.n[L.CTL] = h
    s.n[L.RECV] = -1
    s.n[L.CUR_SHOT] = -1
    s.n[L.LOOSE] = 0
    s.n[L.HANDS] = 0
    s.n[L.DECIDED] = 0
    s.f[L.T_CTL] = t
    s.f[L.CTL_X], s.f[L.CTL_Y] = s.ball[0], s.ball[1]
    press = pressure_on(s, h)
    s.f[L.T_DECIDE] = t + think_time(s, rng, h, press)
    if s.n[L.CMB_KIND] > 0:
        if h == s.n[L.CMB_B] and t - s.f[L.CMB_T] < 4.0:
            s.f[L.T_DECIDE] = t + 0.12 + 0.25 * rng.random()
        elif h != s.n[L.CMB_C] or t - s.f[L.CMB_T] > 6.0:
            s.n[L.CMB_KIND] = 0
            end_pattern(s, L.CMB_PAT, 0)
        else:
            s.n[L.CMB_KIND] = 0
            end_pattern(s, L.CMB_PAT, 1)
    # an unopposed centre-back may be told to step in with the ball
    if s.q[h, L.LINE] == 1 and s.q[h, L.SIDE] == 0 and (s.n[L.INPH] == L.BUILD or s.n[L.INPH] == L.PROG):
        free, _ = nearest_opponent(s, h, s.pos[h, 0] + 5.0 * s.sg[k], s.pos[h, 1])
        if free > 6.5 and rng.random() < s.c[L.C_CARRYOUT] * s.par[k, L.CARRY_OUT]:
            s.n[L.CB_PAT] = log_pattern(s, L.T_CBCARRY, k, h, -1, -1, -1)
            s.f[L.T_DECIDE] = t + 2.2 + 1.2 * rng.random()
    choose_carry(s, rng, h)


@compiled
def shot_worth(s, h):
    """How likely a shot from here ends in the net, as the shooter feels it."""
    k = h // 11
    ax, ay = s.ball[0] * s.sg[k], s.ball[1] * s.sg[k]
    dx = L.HX - ax
    if dx < 0.5:
        return 0.0
    dist = math.sqrt(dx * dx + ay * ay)
    open_goal = math.atan2(7.32 * dx, dx * dx + ay * ay - 13.4)
    if open_goal < 0:
        open_goal += math.pi
    v = 0.62 * math.exp(-dist / 10.5) * min(1.0, open_goal / 0.42)
    for j in range(11 * (1 - k) + 1, 11 * (1 - k) + 11):  # bodies in the way
        if s.q[j, L.ON]:
            jx, jy = s.pos[j, 0] * s.sg[k] - ax, s.pos[j, 1] * s.sg[k] - ay
            u = (jx * dx + jy * -ay) / (dist * dist)
            if 0.02 < u < 0.9:
                off = abs(jx * -ay - jy * dx) / dist
                if off < 0.6 + 1.2 * u:
                    v *= s.c[L.C_TRAFFIC]
    return v * (1.0 - 0.3 * pressure_on(s, h))


@compiled
def decide(s, rng, h):
    """The man on the ball chooses and acts."""
    k = h // 11
    t = clock(s)
    x0, y0 = s.ball[0], s.ball[1]
    ax, ay = x0 * s.sg[k], y0 * s.sg[k]
    ph = s.n[L.INPH]
    press = pressure_on(s, h)
    counter = ph == L.ATRANS and s.n[L.SETTLE] == 0
    settle = ph == L.ATRANS and s.n[L.SETTLE] == 1
    keeper = h % 11 == 0
    # a planned lay-off first
    if s.n[L.CMB_KIND] > 0 and h == s.n[L.CMB_B]:
        c = s.n[L.CMB_C]
        tx, ty = s.pos[c, 0] + 0.8 * s.vel[c, 0], s.pos[c, 1] + 0.8 * s.vel[c, 1]
        dist = math.sqrt((tx - x0) ** 2 + (ty - y0) ** 2)
        off = s.pos[c, 0] * s.sg[k] > offside_line(s, k)
        if 3.0 < dist < 26.0 and not off and lane_chance(s, k, h, c, x0, y0, tx, ty, 11.0, False) > 0.33:
            strike(s, rng, h, c, tx, ty, False, L.D_NONE, L.R_NONE, L.B_RIGHT)
            return
        s.n[L.CMB_KIND] = 0
        end_pattern(s, L.CMB_PAT, 0)
    off = offside_line(s, k)
    own_free = 1.0 - press
    best, bj, btx, bty, bloft, bdet = -1e9, -1, 0.0, 0.0, False, 0
    bp = 0.0
    risk = 1.15 - 0.5 * s.par[k, L.RISK]
    if ph == L.BUILD:
        risk *= 1.45
    elif ph == L.PROG or ph == L.FINAL:
        risk *= s.c[L.C_RISK]
    if settle:
        risk *= 1.4
    if counter:
        risk *= 0.75
    for m in range(11):
        j = 11 * k + m
        if j == h or s.q[j, L.ON] == 0 or s.q[j, L.LEAVING]:
            continue
        jx, jy = s.pos[j, 0] * s.sg[k], s.pos[j, 1] * s.sg[k]
        if jx > off + 0.15 and jx > ax:
            continue
        if m == 0 and (ax > -5.0 or jx > ax + 8.0 or keeper):
            continue
        for way in range(4):
            # 0 to feet on the ground, 1 into the space ahead, 2 lofted, 3 cross
            loft, det = False, L.D_NONE
            if way == 0:
                dd = dist_to(s, j, x0, y0)
                lead = min(1.0, dd / 14.0) * 0.6
                tx, ty = s.pos[j, 0] + lead * s.vel[j, 0], s.pos[j, 1] + lead * s.vel[j, 1]
            elif way == 1:
                if s.q[j, L.FWD] == 0 and s.w[j, L.RUN_UNTIL] < t:
                    continue
                if jx < ax - 2.0 or jx < off - 10.0 or off < -5.0:
                    continue
                ahead = 8.0 + 0.9 * max(0.0, s.vel[j, 0] * s.sg[k])
                tx, ty = s.pos[j, 0] + ahead * s.sg[k], s.pos[j, 1] * 0.9 + 0.6 * s.vel[j, 1]
                if abs(tx) > 48.0:
                    continue
                det = L.D_THROUGH
            elif way == 2:
                lead = 0.9
                tx, ty = s.pos[j, 0] + lead * s.vel[j, 0], s.pos[j, 1] + lead * s.vel[j, 1]
                loft = True
            else:
                if ax < 32.0 or abs(ay) < 12.0 or jx < 36.0 or abs(jy) > 15.0:
                    continue
                tx, ty = s.pos[j, 0] + 0.7 * s.vel[j, 0], s.pos[j, 1] + 0.7 * s.vel[j, 1]
                loft = not (ax > 44.0 and jx < ax - 4.0)
                det = L.D_CROSS if loft else L.D_CUTBACK
            if abs(tx) > 51.0 or abs(ty) > 33.0:
                continue
            tax, tay = tx * s.sg[k], ty * s.sg[k]
            dist = math.sqrt((tx - x0) ** 2 + (ty - y0) ** 2)
            if way == 0 and (dist < 4.0 or dist > 36.0):
                continue
            if way == 1 and (dist < 7.0 or dist > 34.0):
                continue
            if way == 2 and (dist < 24.0 or dist > 62.0):
                continue
            if way == 3 and (dist < 8.0 or dist > 42.0):
                continue
            if way == 2:
                det = L.D_LONG if dist > 30.0 else L.D_NONE
            speed = ground_speed(dist) if not loft else dist / (0.75 + dist / 23.0)
            if way == 1:
                speed = min(17.0, math.sqrt(16.0 + 3.6 * dist) + 0.8)
            p = lane_chance(s, k, h, j, x0, y0, tx, ty, speed * 0.93, loft)
            p *= 1.0 - (0.0016 + 0.0018 * press) * dist * (1.6 - s.att[h, L.PASS])
            if loft:
                p *= 0.80 - 0.004 * dist
            if way == 3:
                p = max(p, 0.22)
            free = openness(s, h, tx, ty)
            u = stand(tax, tay, free)
            loss = worth(-tax, tay) * 0.9 + s.c[L.C_LOSS]
            ev = p * u - (1.0 - p) * loss * risk
            gain = tax - ax
            if counter:
                ev += 0.0011 * clip(gain, -15.0, 30.0) * p
            elif settle:
                ev += 0.030 * p - 0.0010 * max(0.0, gain)
            elif ph == L.BUILD:
                ev += 0.00035 * clip(gain, -10.0, 25.0) * p + 0.010 * p
                if m == 0:
                    ev -= 0.003
            elif ph == L.PROG:
                ev += s.c[L.C_FORWARD] * clip(gain, -20.0, 25.0) * p
            if abs(ty - y0) > 30.0 and abs(ty) > 14.0 and free > 0.5 and ph != L.ATRANS:
                ev += s.c[L.C_SWITCH] * s.par[k, L.SWITCH]
            if loft and way == 2 and gain > 18.0 and (ph == L.BUILD or ph == L.PROG or settle or keeper):
                ev += 0.055 * s.par[k, L.LONGB] * (0.5 + press) * (1.0 if ph == L.BUILD else 0.7)
            if loft and way == 2:
                ev -= s.c[L.C_LOFT]
            if way == 3:
                ev += s.c[L.C_CROSS] * s.par[k, L.CROSS]
            if way == 1:
                ev += 0.012 * s.par[k, L.RUNS] if s.w[j, L.RUN_UNTIL] > t else -0.004
            if j == s.n[L.PREV_FROM]:
                ev -= 0.005
            ev += 0.0075 * rng.standard_normal()
            if ev > best:
                best, bj, btx, bty, bloft, bdet, bp = ev, j, tx, ty, loft, det, p
    # shoot
    if ax > 20.0:
        xg = shot_worth(s, h)
        ev = xg * s.c[L.C_SHOOT] * s.par[k, L.SHOOT] * shot_mood(s, k) + 0.012 * rng.standard_normal()
        if (xg > s.c[L.C_XGMIN] and ev > max(best, 0.045)) or xg > 0.25 / clip(shot_mood(s, k), 0.5, 1.0):
            s.f[L.XG_SUM] += xg
            play_shot(s, rng, h, L.R_NONE, False)
            return
    # carry on
    stay = stand(ax + 3.0, ay, own_free) - 0.010 - 0.012 * s.n[L.DECIDED]
    if keeper:
        stay = -1.0
    gx, gy = s.f[L.CAR_X], s.f[L.CAR_Y]
    room, opp = nearest_opponent(s, h, gx, gy)
    if room > 4.0 and not settle:
        stay += 0.004 * min(3.0, room - 4.0) + (0.01 if counter else 0.0)
    # take his man on
    dn, opp = nearest_opponent(s, h, s.pos[h, 0], s.pos[h, 1])
    facing = dn < 2.1 and ax > -2.0 and opp >= 0 and opp % 11 > 0 and not settle
    if facing and s.pos[opp, 0] * s.sg[k] > ax - 0.3:  # noqa: SIM102
        if rng.random() < 0.22 + 0.35 * (s.att[h, L.DRIB] - 0.5):
            e = log_event(s, L.K_TAKEON, k, h, x0, y0)
            won = rng.random() < 0.54 + 0.5 * (s.att[h, L.DRIB] - s.att[opp, L.TACK])
            s.ev[e, L.E_SUCC] = 1 if won else 0
            s.ev[e, L.E_OUT] = L.O_WON if won else L.O_LOST
            if won:
                s.w[opp, L.STUN] = 1.0
                side = 1.0 if rng.random() < 0.5 else -1.0
                s.f[L.CAR_X] = s.pos[h, 0] + 9.0 * s.sg[k]
                s.f[L.CAR_Y] = clip(s.pos[h, 1] + 4.0 * side, -32.0, 32.0)
                s.f[L.CAR_V] = 6.0
                s.f[L.T_DECIDE] = t + 0.8
                s.f[L.T_NOTACK] = t + 0.7
            else:
                poke_loose(s, rng, h, opp)
            return
    # under the hammer near his own goal: get rid of it
    if (best < -0.010 and ax < -24.0 and press > 0.35 and not keeper) or (press > 0.55 and ax < -36.0 and bp < 0.75):
        play_clearance(s, rng, h, False)
        return
    if keeper and (bj < 0 or best < -0.012):
        far, _ = nearest_mate(s, h, 8.0 * s.sg[k], 10.0 * (1.0 if rng.random() < 0.5 else -1.0))
        strike(s, rng, h, far, s.pos[far, 0], s.pos[far, 1], True, L.D_LONG, L.R_NONE, L.B_RIGHT)
        return
    if bj >= 0 and (best >= stay or s.n[L.DECIDED] >= 3 or bj == -1):
        if best < -0.02 and s.n[L.DECIDED] < 4 and press < 0.5:
            s.f[L.T_DECIDE] = t + 0.6
            s.n[L.DECIDED] += 1
            choose_carry(s, rng, h)
            return
        body = L.B_RIGHT if rng.random() < 0.68 else L.B_LEFT
        strike(s, rng, h, bj, btx, bty, bloft, bdet, L.R_NONE, body)
        return
    s.n[L.DECIDED] += 1
    s.f[L.T_DECIDE] = t + 0.5 + 0.6 * rng.random()
    choose_carry(s, rng, h)


@compiled
def poke_loose(s, rng, h, opp):
    """The ball is knocked away from ``h`` by ``opp`` and runs loose."""
    end_carry(s)
    s.n[L.CTL] = -1
    s.n[L.LAST] = opp
    s.n[L.LAST_TOUCH_TEAM] = opp // 11
    s.n[L.RECV] = -1
    s.n[L.CUR_PASS] = -1
    s.n[L.LOOSE] = 1
    for j in range(22):
        s.q[j, L.OFF] = 0
    ang = 6.283185 * rng.random()
    v = 3.0 + 4.0 * rng.random()
    s.ball[3], s.ball[4], s.ball[5] = v * math.cos(ang), v * math.sin(ang), 0.0
    s.w[h, L.NOTOUCH] = clock(s) + 0.7
    s.w[opp, L.NOTOUCH] = clock(s) + 0.3
