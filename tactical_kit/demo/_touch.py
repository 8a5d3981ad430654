"""Meeting the ball: who goes for it, interceptions, tackles, blocks, saves and the frame of the goal."""

from __future__ import annotations

import math

from . import _layout as L
from ._body import predict_path
from ._combine import cue_given
from ._compiled import compiled
from ._control import deflect, gain, head_ball, offside_given
from ._kick import corner_mood, end_carry, pressure_on
from ._mind import poke_loose
from ._referee import close_pass, close_shot, give_foul
from ._space import clock, dist_to, log_event

__all__ = ["challenge", "chase_ball", "meet_ball"]

CUT_WIDE = 1.0  # a pass whose course leads by its man wider than this, m, was misplaced
CUT_SHORT = 2.0  # and one this close to him, m, has arrived: what follows is a contest for it
REACH = 1.0  # how far from his middle a man can play the ball with his feet, m
LUNGE = 1.08  # and throw himself into a shot, m


@compiled
def chase_ball(s, rng):
    """When nobody holds the ball: each side sends its best placed man, the receiver comes to meet it."""
    t = clock(s)
    predict_path(s)
    for k in range(2):
        best, who = 99.0, -1
        for i in range(11 * k, 11 * k + 11):
            if s.q[i, L.ON] == 0 or s.q[i, L.LEAVING]:
                continue
            s.w[i, L.TTB] = 99.0
            lag = max(0.0, s.w[i, L.NOTOUCH] - t)
            if s.w[i, L.STUN] > 0:
                lag += s.w[i, L.STUN]
            for m in range(45):
                tau = 0.1 * (m + 1)
                if s.path[m, 2] > (2.5 if i % 11 == 0 else 2.1):
                    continue
                dx = s.path[m, 0] - s.pos[i, 0] - 0.25 * s.vel[i, 0]
                dy = s.path[m, 1] - s.pos[i, 1] - 0.25 * s.vel[i, 1]
                if math.sqrt(dx * dx + dy * dy) - 0.7 <= 6.6 * max(0.0, tau - lag - 0.12):
                    s.w[i, L.TTB] = tau
                    break
            if i % 11 == 0 and (abs(s.path[min(44, 20), 0]) < 34.0 or abs(s.path[20, 1]) > 22.0):
                continue
            if s.w[i, L.TTB] < best:
                best, who = s.w[i, L.TTB], i
        s.n[L.BEST0 + k] = who
    last = s.n[L.LAST_TOUCH_TEAM]
    r = s.n[L.RECV]
    if s.n[L.CUR_SHOT] >= 0:
        gk = 11 * (1 - last)
        goal = -L.HX * s.sg[1 - last]
        s.tgt[gk, 0] = goal + 0.9 * s.sg[1 - last]
        there = max(-3.4, min(3.4, s.f[L.SHOT_Y]))
        s.tgt[gk, 1] = s.pos[gk, 1] + 1.8 * (there - s.pos[gk, 1])  # he dives: no slowing down at the ball
        s.cap[gk] = 7.0
        return
    for k in range(2):
        i = s.n[L.BEST0 + k]
        if k == last and r >= 0 and s.n[L.LOOSE] == 0:
            i = r
            if s.n[L.BEST0 + k] >= 0 and s.w[s.n[L.BEST0 + k], L.TTB] < s.w[r, L.TTB] - 0.7:
                i = s.n[L.BEST0 + k]
        if i < 0:
            continue
        passed = k != last and r >= 0 and s.n[L.LOOSE] == 0 and s.ball[2] < 1.0
        if passed and s.w[i, L.TTB] > s.w[r, L.TTB] + 0.3:  # only when he is there about as soon as the receiver
            continue
        tau = s.w[i, L.TTB]
        m = round(tau * 10) - 1
        if tau > 50.0:
            m = 30
        m = max(0, min(44, m))
        gx, gy = s.path[m, 0], s.path[m, 1]
        gx = max(-53.0, min(53.0, gx))
        gy = max(-34.5, min(34.5, gy))
        dist = dist_to(s, i, gx, gy)
        need = dist / max(0.25, tau)
        s.tgt[i, 0], s.tgt[i, 1] = gx, gy
        top = 0.94 * s.att[i, L.PACE]
        s.cap[i] = min(top, max(2.2, need * 1.25 + 0.6))
        if s.n[L.LOOSE] or k != last:
            s.cap[i] = min(top, max(s.cap[i], 5.35))
        s.q[i, L.JOB] = L.J_RECEIVE if k == last and i == r else L.J_CHASE


@compiled
def keeper_saves(s, rng):
    """A shot comes to the keeper: held, parried or past him."""
    t = clock(s)
    k = s.n[L.LAST_TOUCH_TEAM]
    gk = 11 * (1 - k)
    bx = s.ball[0] * s.sg[k]
    gx = s.pos[gk, 0] * s.sg[k]
    near = dist_to(s, gk, s.ball[0], s.ball[1])
    passing = bx > gx - 0.6 or bx > L.HX - 0.7
    if not passing or s.n[L.SHOT_WILL] != 1 or near > 1.4 or s.ball[2] > 2.9:
        return False
    e0 = s.n[L.CUR_SHOT]
    close_shot(s, L.O_SAVED)
    e = log_event(s, L.K_SAVE, 1 - k, gk, s.ball[0], s.ball[1])
    s.ev[e, L.E_REL] = e0
    s.ev[e, L.E_BODY] = L.B_HANDS
    s.n[L.LAST] = gk
    s.n[L.LAST_TOUCH_TEAM] = 1 - k
    for j in range(22):
        s.q[j, L.OFF] = 0
    if near < 1.3 and rng.random() < 0.75:
        s.n[L.CUR_PASS] = -1
        gain(s, rng, gk, -1, True)
        return True
    # parried: to the side or behind
    side = 1.0 if s.ball[1] > s.pos[gk, 1] else -1.0
    v = 5.0 + 6.0 * rng.random()
    ang = 0.2 + 0.9 * rng.random()
    if rng.random() < s.c[L.C_PARRY] * corner_mood(s):
        ang = -ang
    if ang < 0.0:  # behind, but round the post: from where it was parried it must miss the goal
        room = max(0.05, L.HX - s.ball[0] * s.sg[k])
        out = abs(s.ball[1]) + room * math.cos(ang) / max(0.05, -math.sin(ang))
        if s.ball[1] * side < 0.0 or out < 4.6:
            side = 1.0 if s.ball[1] > 0 else -1.0
            slope = max(0.0, 4.8 - abs(s.ball[1])) / room
            ang = -math.atan2(1.0, slope)
            if slope > 4.0:
                ang = 0.3
    s.ball[3] = -v * math.sin(ang) * s.sg[k]
    s.ball[4] = v * math.cos(ang) * side
    s.ball[5] = 1.5
    s.n[L.LOOSE] = 1
    s.n[L.RECV] = -1
    s.n[L.CUR_SHOT] = -1
    s.w[gk, L.NOTOUCH] = t + 0.6
    return True


@compiled
def off_the_frame(s, rng):
    """A shot comes back off a post or the bar."""
    b = s.ball
    over = abs(b[0]) - L.HX
    if over < 0.0 or abs(b[3]) < 1.0:
        return False
    y = abs(b[1] - b[4] * over / abs(b[3]))
    z = b[2] - b[5] * over / abs(b[3])
    post = 3.60 < y < 3.80 and z < 2.52
    bar = 2.36 < z < 2.54 and y < 3.80
    if not (post or bar):
        return False
    close_shot(s, L.O_WOOD)
    end = 1.0 if b[0] > 0 else -1.0
    b[0] = end * (L.HX - 0.15)
    b[3] = -end * abs(b[3]) * (0.30 + 0.20 * rng.random())
    b[4] = 0.5 * b[4] + 2.0 * rng.standard_normal()
    b[5] = 1.0
    s.n[L.LOOSE] = 1
    s.n[L.RECV] = -1
    return True


@compiled
def cut_off(s):
    """True when the pass under way was still on its way to the man it was meant for.

    Its course leads past his place at arm's length or less, and it has not reached him yet. A pass that
    was misplaced or overhit cannot be cut off: whoever gets it has recovered it.
    """
    rx, ry = s.f[L.TGT_X] - s.f[L.PASS_X0], s.f[L.TGT_Y] - s.f[L.PASS_Y0]
    cx, cy = math.cos(s.f[L.PASS_ANG]), math.sin(s.f[L.PASS_ANG])
    along, wide = rx * cx + ry * cy, abs(rx * cy - ry * cx)
    done = (s.ball[0] - s.f[L.PASS_X0]) * cx + (s.ball[1] - s.f[L.PASS_Y0]) * cy
    return wide < CUT_WIDE and done < along - CUT_SHORT


@compiled
def hurried_behind(s, rng, i):
    """A defender under pressure near his own goal line takes no chances and turns the ball behind."""
    k = i // 11
    if k == s.n[L.OWN] or s.ball[0] * s.sg[k] > -36.0 or pressure_on(s, i) < 0.25:
        return False
    if rng.random() > 0.90 * (corner_mood(s) - 0.6):
        return False
    log_event(s, L.K_TOUCH, k, i, s.ball[0], s.ball[1])
    deflect(s, rng, i, 0.5)
    return True


@compiled
def meet_ball(s, rng):
    """One step: does anybody touch the free ball?"""
    t = clock(s)
    b = s.ball
    v = math.sqrt(b[3] ** 2 + b[4] ** 2)
    if s.n[L.CUR_SHOT] >= 0:
        k = s.n[L.LAST_TOUCH_TEAM]
        if keeper_saves(s, rng):
            return
        if off_the_frame(s, rng):
            return
        for i in range(11 * (1 - k) + 1, 11 * (1 - k) + 11):
            if s.q[i, L.ON] and s.w[i, L.NOTOUCH] < t and b[2] < 1.9 and dist_to(s, i, b[0], b[1]) < LUNGE:
                s.w[i, L.NOTOUCH] = t + 0.5
                if rng.random() < s.c[L.C_BLOCK]:
                    e0 = s.n[L.CUR_SHOT]
                    close_shot(s, L.O_BLOCKED)
                    e = log_event(s, L.K_BLOCK, 1 - k, i, b[0], b[1])
                    s.ev[e, L.E_REL] = e0
                    s.n[L.CUR_PASS] = -1
                    deflect(s, rng, i, 1.1)
                    return
        if t - s.f[L.SHOT_T] > 2.6 or v < 6.0:
            close_shot(s, L.O_OFFT)
            s.n[L.LOOSE] = 1
        return
    best, i = 1.25, -1
    for j in range(22):
        if s.q[j, L.ON] == 0 or s.w[j, L.NOTOUCH] > t or s.q[j, L.LEAVING]:
            continue
        lim = 2.30
        reach = 0.98
        own_box = j % 11 == 0 and -s.pos[j, 0] * s.sg[j // 11] > 36.0 and abs(s.pos[j, 1]) < 20.0
        if own_box:
            lim, reach = 2.9, 1.2
        if b[2] > lim:
            continue
        c = dist_to(s, j, b[0], b[1])
        if c < reach and c < best:
            best, i = c, j
    if i < 0:
        return
    k = i // 11
    own_box = i % 11 == 0 and -s.pos[i, 0] * s.sg[k] > 36.0 and abs(s.pos[i, 1]) < 20.0
    mine = s.n[L.CUR_PASS] >= 0 and k == int(s.ev[s.n[L.CUR_PASS], L.E_TEAM])
    if own_box and not mine:
        gain(s, rng, i, L.K_CLAIM, True)
        return
    if b[2] > 1.25:
        # an opponent near enough jumps with him
        near, rival = 1.9, -1
        for j in range(11 * (1 - k) + 1, 11 * (1 - k) + 11):
            if s.q[j, L.ON] and s.w[j, L.NOTOUCH] < t:
                c = dist_to(s, j, b[0], b[1])
                if c < near:
                    near, rival = c, j
        win = i
        if rival >= 0:
            edge = 2.6 * (s.att[i, L.AIR] - s.att[rival, L.AIR]) + 0.5 * (near - best)
            if k != s.n[L.LAST_TOUCH_TEAM]:
                edge += 0.35  # he faces the ball
            lose = i
            if rng.random() < 1.0 / (1.0 + math.exp(-edge)):
                lose = rival
            else:
                win = rival
            if dist_to(s, win, b[0], b[1]) > 1.0:
                lose, win = win, i if win == rival else rival
            e = log_event(s, L.K_DUEL, win // 11, win, b[0], b[1])
            s.ev[e, L.E_SUCC] = 1
            s.ev[e, L.E_OUT] = L.O_WON
            s.ev[e, L.E_RECV] = s.q[lose, L.PID]
            s.ev[e, L.E_BODY] = L.B_HEAD
            s.w[lose, L.NOTOUCH] = t + 0.7
            s.w[win, L.NOTOUCH] = t + 0.2
            head_ball(s, rng, win, True)
            return
        if b[2] > 1.7 or (abs(b[0]) > 38.0 and abs(b[1]) < 15.0):
            head_ball(s, rng, i, False)
            return
    if mine:
        if offside_given(s, rng, i):
            return
        press = pressure_on(s, i)
        slip = 0.008 + (0.035 * press + 0.0012 * max(0.0, v - 9.0)) * (1.55 - s.att[i, L.CTRL])
        if rng.random() < slip * s.c[L.C_SLIP] and i % 11 > 0:
            close_pass(s, i, 1, L.O_COMPLETE)
            log_event(s, L.K_TOUCH, k, i, b[0], b[1])
            deflect(s, rng, i, 0.9)
            d = 1 - s.n[L.OWN]
            if k == s.n[L.OWN]:
                cue_given(s, rng, L.C_TOUCH, s.par[d, L.CUE_TOUCH], 3)
            return
        gain(s, rng, i, -1, False)
        return
    if s.n[L.CUR_PASS] >= 0 and s.n[L.LOOSE] == 0:
        p = 1.22 - 0.045 * v
        if s.q[i, L.JOB] != L.J_CHASE:
            p *= 0.62
        p = max(0.22, min(0.95, p * s.c[L.C_CUT]))
        if rng.random() > p:
            s.w[i, L.NOTOUCH] = t + 0.5
            if rng.random() < 0.38:
                log_event(s, L.K_BLOCK if t - s.f[L.T_KICK] < 0.5 else L.K_TOUCH, k, i, b[0], b[1])
                deflect(s, rng, i, 0.7)
            return
        if hurried_behind(s, rng, i):
            return
        gain(s, rng, i, L.K_INTER if cut_off(s) else L.K_RECOV, False)
        return
    if k == s.n[L.LAST_TOUCH_TEAM] and offside_given(s, rng, i):
        return
    if v > 13.0 and rng.random() < 0.5:
        s.w[i, L.NOTOUCH] = t + 0.3
        return
    if hurried_behind(s, rng, i):
        return
    gain(s, rng, i, L.K_RECOV, False)


@compiled
def challenge(s, rng):
    """Five times a second: opponents near the man on the ball may go in for it."""
    h = s.n[L.CTL]
    t = clock(s)
    if h < 0 or t < s.f[L.T_NOTACK] or t - s.f[L.T_CTL] < 0.25:
        return
    k = h // 11
    d = 1 - k
    if h % 11 == 0 and abs(s.pos[h, 0]) > 36.0:
        return
    for i in range(11 * d + 1, 11 * d + 11):
        if s.q[i, L.ON] == 0 or s.w[i, L.STUN] > 0.0:
            continue
        gap = dist_to(s, i, s.ball[0], s.ball[1])
        if gap > REACH:
            continue
        rate = 0.115
        if s.q[i, L.JOB] == L.J_HUNT:
            rate = 0.16
        elif s.q[i, L.JOB] != L.J_PRESS:
            rate = 0.07
        if s.n[L.OUTPH] == L.DTRANS:
            rate *= 0.6
        if rng.random() > rate * s.c[L.C_TACKLE]:
            continue
        want = 23.0 * (t + (s.n[L.PERIOD] - 1) * 2790.0) / 5640.0
        mood = max(0.3, min(2.4, 1.0 + 0.26 * (want - s.n[L.FOULS])))
        in_box = s.ball[0] * s.sg[k] > 35.5 and abs(s.ball[1]) < 20.5
        foul = s.c[L.C_FOUL] * mood * (0.16 if in_box else 1.0) * (1.25 - 0.5 * s.att[i, L.TACK])
        if s.q[i, L.BOOKED]:
            foul *= 0.7
        u = rng.random()
        if u < foul:
            give_foul(s, rng, i, h)
            return
        skill = 0.62 + 0.55 * (s.att[i, L.TACK] - s.att[h, L.CTRL])
        e = log_event(s, L.K_TACKLE, d, i, s.ball[0], s.ball[1])
        s.ev[e, L.E_RECV] = s.q[h, L.PID]
        u = rng.random()
        if u < skill * 0.55:
            s.ev[e, L.E_SUCC] = 1
            s.ev[e, L.E_OUT] = L.O_WON
            end_carry(s)
            s.n[L.CUR_PASS] = -1
            s.w[h, L.NOTOUCH] = t + 0.8
            s.w[h, L.STUN] = 0.4
            gain(s, rng, i, -1, False)
            return
        if u < skill:
            s.ev[e, L.E_SUCC] = 1
            s.ev[e, L.E_OUT] = L.O_WON
            poke_loose(s, rng, h, i)
            return
        s.ev[e, L.E_SUCC] = 0
        s.ev[e, L.E_OUT] = L.O_LOST
        s.w[i, L.STUN] = 0.8
