"""The laws: ball out, restarts, where players must stand, goals, fouls and cards."""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled
from ._kick import end_carry
from ._phase import open_settled, order_mark, release_marks, set_in, set_out
from ._restart import deliver
from ._shape import clip, place_everyone
from ._space import clock, dist_to, end_pattern, log_event, log_pattern

__all__ = ["award", "check_out", "close_pass", "dead_ball", "give_foul"]


@compiled
def close_pass(s, receiver, success, outcome):
    """Write how the pass under way ended."""
    e = s.n[L.CUR_PASS]
    if e < 0:
        return
    row = s.ev[e]
    row[L.E_RECV] = s.q[receiver, L.PID] if receiver >= 0 else -1
    row[L.E_SUCC] = success
    row[L.E_OUT] = outcome
    row[L.E_EX], row[L.E_EY] = s.ball[0], s.ball[1]
    row[L.E_END] = s.n[L.FRAME]
    s.n[L.CUR_PASS] = -1


@compiled
def close_shot(s, outcome):
    """Write how the shot under way ended."""
    e = s.n[L.CUR_SHOT]
    if e < 0:
        return
    row = s.ev[e]
    row[L.E_SUCC] = 1 if outcome == L.O_GOAL else 0
    row[L.E_OUT] = outcome
    row[L.E_EX], row[L.E_EY] = s.ball[0], s.ball[1]
    row[L.E_END] = s.n[L.FRAME]
    s.n[L.CUR_SHOT] = -1


@compiled
def pick_taker(s, kind, k, x, y):
    """Who takes the restart."""
    if kind == L.R_GOALKICK:
        return 11 * k
    best, who = 1e9, -1
    for i in range(11 * k + 1, 11 * k + 11):
        if s.q[i, L.ON] == 0 or s.q[i, L.LEAVING]:
            continue
        c = dist_to(s, i, x, y)
        if kind == L.R_THROW:
            c -= 12.0 if s.q[i, L.SIDE] else 0.0
        elif kind == L.R_CORNER:
            c = 30.0 * (1.0 - s.att[i, L.PASS]) + (50.0 if s.q[i, L.LINE] == 1 and s.q[i, L.SIDE] == 0 else 0.0)
            c += 0.1 * dist_to(s, i, x, y) + (25.0 if s.q[i, L.LINE] == 3 and s.q[i, L.SIDE] == 0 else 0.0)
        elif kind == L.R_PEN:
            c = -s.att[i, L.SHOT]
        elif kind == L.R_KICKOFF:
            c = -10.0 * s.q[i, L.LINE] + abs(s.base[i, 1]) * 0.1
        elif kind == L.R_FREE and x * s.sg[k] > 12.5:
            c = 30.0 * (1.0 - s.att[i, L.PASS]) + 0.1 * c
        if c < best:
            best, who = c, i
    return who


@compiled
def award(s, rng, kind, k, x, y):
    """The ball is dead; team ``k`` will restart from (x, y)."""
    t = clock(s)
    end_carry(s)
    s.n[L.ALIVE] = 0
    s.n[L.CTL] = -1
    s.n[L.RECV] = -1
    s.n[L.CUR_PASS] = -1
    s.n[L.CUR_SHOT] = -1
    s.n[L.LOOSE] = 0
    s.n[L.CMB_KIND] = 0
    for c in (L.BU_PAT, L.RD_PAT, L.CP_PAT, L.PR_PAT, L.TRAP_PAT, L.CMB_PAT, L.SP_PAT, L.CB_PAT, L.CA_PAT, L.LB_PAT):
        end_pattern(s, c, 0)
    s.n[L.BETW_PAT] = -1
    release_marks(s, 0)
    release_marks(s, 1)
    s.n[L.RESTART] = kind
    s.n[L.RTEAM] = k
    s.n[L.OWN] = k
    s.n[L.SETTLE] = 0
    s.f[L.T_PRESS] = -9.0
    s.f[L.TRAP_T] = -9.0
    s.f[L.RX], s.f[L.RY] = x, y
    s.f[L.T_DEAD] = t
    for i in range(22):
        s.w[i, L.RUN_UNTIL] = -1.0
        s.q[i, L.OFF] = 0
    u = rng.random()
    ax = x * s.sg[k]
    wait = 8.0
    s.n[L.SP_KIND] = kind
    set_play = kind == L.R_CORNER or kind == L.R_PEN or kind == L.R_KICKOFF or (kind == L.R_FREE and ax > 12.5)
    if kind == L.R_KICKOFF:
        wait = 40.0 + 14.0 * u
    elif kind == L.R_GOALKICK:
        wait = 20.0 + 13.0 * u
    elif kind == L.R_THROW:
        wait = 9.0 + 9.0 * u
        if ax > 33.0 and rng.random() < 0.35:
            set_play = True
            wait += 8.0
        else:
            s.n[L.SP_KIND] = L.R_NONE
    elif kind == L.R_CORNER:
        wait = 24.0 + 12.0 * u
        s.n[L.CORNERS] += 1
    elif kind == L.R_FREE:
        wait = 15.0 + 16.0 * u + (14.0 if set_play else 0.0)
    elif kind == L.R_PEN:
        wait = 55.0 + 15.0 * u
    # evens out a match: restarts take longer when the ball has been in play much, and the other way round
    wait *= clip(1.0 + (s.f[L.PLAYED] - 0.605 * t) / 400.0, 0.75, 1.25)
    s.f[L.T_READY] = t + s.c[L.C_WAIT] * wait * (1.0 + 0.25 * s.par[k, L.WASTE])
    s.n[L.PRESS_ON] = 1 if rng.random() < s.par[1 - k, L.PRESS_HIGH] else 0
    if set_play:
        s.n[L.INPH], s.n[L.OUTPH] = L.ISET, L.OSET
    else:
        if ax < s.par[k, L.BUILD_UNTIL]:
            s.n[L.INPH] = L.BUILD
        else:
            s.n[L.INPH] = L.FINAL if ax > 17.5 else L.PROG
        if ax > 16.0 or (s.par[1 - k, L.LOW_SPELL] > 0.5 and ax > -10.0):
            s.n[L.OUTPH] = L.LOW
        elif ax < -19.0 and s.n[L.PRESS_ON]:
            s.n[L.OUTPH] = L.HIGH
        else:
            s.n[L.OUTPH] = L.MID
    s.n[L.TAKER] = pick_taker(s, kind, k, x, y)
    if kind == L.R_CORNER or (kind == L.R_FREE and set_play):
        plan_box(s, rng, k)


@compiled
def plan_box(s, rng, k):
    """Set-play marking orders: some defenders take a man, the rest keep zones."""
    d = 1 - k
    men = 2 + int(4.0 * s.par[d, L.MAN_CORNER] + 0.5)
    used = 0
    for _ in range(men):
        bi, bj, best = -1, -1, -1e9
        for j in range(11 * k + 1, 11 * k + 11):  # the best headers are marked first
            taken = j == s.n[L.TAKER] or s.q[j, L.ON] == 0
            for i in range(11 * d, 11 * d + 11):
                if s.q[i, L.MARK] == j:
                    taken = True
            if not taken and s.att[j, L.AIR] > best:
                best, bj = s.att[j, L.AIR], j
        best = -1e9
        for i in range(11 * d + 1, 11 * d + 11):
            if s.q[i, L.ON] and s.q[i, L.MARK] < 0 and used < men:
                v = s.att[i, L.AIR] - (0.5 if s.q[i, L.LINE] == 3 else 0.0)
                if v > best:
                    best, bi = v, i
        if bi >= 0 and bj >= 0:
            order_mark(s, bi, bj, 2 if s.n[L.RESTART] == L.R_CORNER else 4)
            used += 1


@compiled
def set_target(s, i, k, ax, ay):
    """Send player ``i`` to a place in the attacking frame of team ``k``."""
    s.tgt[i, 0] = ax * s.sg[k]
    s.tgt[i, 1] = ay * s.sg[k]


@compiled
def box_targets(s, k):
    """Corner and wide free-kick places for both sides."""
    d = 1 - k
    taker = s.n[L.TAKER]
    side = 1.0 if s.f[L.RY] * s.sg[k] > 0 else -1.0
    corner = s.n[L.RESTART] == L.R_CORNER
    drop = 0.0 if corner else min(0.0, -(47.0 - s.f[L.RX] * s.sg[k]) * 0.18)
    zx = (46.5, 47.5, 46.0, 42.5, 42.0, 34.0, 45.0, 18.0, -3.0, -5.0)
    zy = (4.0, 0.0, -5.0, 2.0, -3.0, -4.0, 24.0, 12.0, 7.0, -7.0)
    for m in range(10):  # best headers to the first places
        bi, best = -1, -1e9
        for i in range(11 * k + 1, 11 * k + 11):
            if s.q[i, L.ON] and i != taker and s.q[i, L.JOB] != 100 and not s.q[i, L.LEAVING]:
                v = s.att[i, L.AIR]
                if m >= 8:
                    v = 2.0 - s.q[i, L.LINE]
                if v > best:
                    best, bi = v, i
        if bi < 0:
            break
        s.q[bi, L.JOB] = 100
        mm = m
        if m == 7:
            mm = 8
        if m == 8:
            mm = 9
        y = zy[mm] * side
        if mm == 6 and not corner:
            y = zy[mm] * 0.5 * side
        set_target(s, bi, k, zx[mm] + drop, y)
    for i in range(11 * k, 11 * k + 11):
        if s.q[i, L.JOB] == 100:
            s.q[i, L.JOB] = L.J_SHAPE
    dx = (47.6, 47.9, 47.6, 46.0, 41.5, 37.5, 40.0, 9.0, 36.5, 44.0)
    dy = (4.6, 1.0, -3.2, 7.0, 0.0, 3.0, 10.0, 0.0, -7.0, -7.5)
    m = 0
    for i in range(11 * d + 1, 11 * d + 11):
        if s.q[i, L.ON] == 0 or s.q[i, L.LEAVING]:
            continue
        j = s.q[i, L.MARK]
        if j >= 0:
            s.tgt[i, 0] = s.tgt[j, 0] + 1.1 * s.sg[k]
            s.tgt[i, 1] = s.tgt[j, 1]
            s.q[i, L.JOB] = L.J_MARK
        elif s.q[i, L.LINE] == 3:
            set_target(s, i, k, dx[7], dy[7] + 3.0 * (i % 3 - 1))
        else:
            mm = m if m < 7 else m + 1
            mm = min(mm, 9)
            set_target(s, i, k, dx[mm] + drop, dy[mm] * side)
            m += 1
    set_target(s, 11 * d, k, 51.0, 0.6 * side)


@compiled
def dead_targets(s, rng, left):
    """Places for the restart, and how briskly to take them."""
    k, d = s.n[L.RTEAM], 1 - s.n[L.RTEAM]
    kind = s.n[L.RESTART]
    keep = s.ball.copy()
    s.ball[0], s.ball[1], s.ball[2] = s.f[L.RX], s.f[L.RY], 0.0
    s.ball[3], s.ball[4], s.ball[5] = 0.0, 0.0, 0.0
    place_everyone(s, rng)
    s.ball[:] = keep
    rx, ry = s.f[L.RX], s.f[L.RY]
    taker = s.n[L.TAKER]
    if kind == L.R_CORNER or (kind == L.R_FREE and s.n[L.INPH] == L.ISET) or kind == L.R_PEN:
        box_targets(s, k)
    for i in range(22):
        if s.q[i, L.ON] == 0 or s.q[i, L.LEAVING] or i == taker:
            continue
        team = i // 11
        if kind == L.R_KICKOFF:
            ax = s.base[i, 0] * s.sg[team]
            ay = s.base[i, 1]
            if i % 11 > 0:
                ax = min(-1.5, ax * 0.75 - 7.0)
                if team == k and s.q[i, L.LINE] == 3 and s.q[i, L.SIDE] == 0:
                    ax, ay = -1.6, 6.0
                c = math.sqrt(ax * ax + ay * ay)
                if team != k and c < 10.2:
                    ax = -math.sqrt(max(0.0, 10.6**2 - min(ay * ay, 100.0))) - 0.2
            s.tgt[i, 0], s.tgt[i, 1] = ax * s.sg[team], ay
        elif kind == L.R_PEN and i % 11 > 0:
            ax = s.tgt[i, 0] * s.sg[k]
            if ax > 33.0:
                ax = 34.5 - 0.4 * (i % 5)
                s.tgt[i, 0] = ax * s.sg[k]
                s.tgt[i, 1] = clip((i % 11 - 5.5) * 3.4 + (1.6 if team == d else 0.0), -24.0, 24.0)
                if abs(s.tgt[i, 1]) < 9.5:
                    s.tgt[i, 0] = (31.0 - 0.5 * (i % 3)) * s.sg[k]
        elif kind == L.R_PEN:
            s.tgt[i, 0] = (L.HX - 0.1) * s.sg[k] if team == d else s.tgt[i, 0]
            if team == d:
                s.tgt[i, 1] = 0.0
        if team == d and kind != L.R_KICKOFF:
            far = 2.3 if kind == L.R_THROW else 9.6
            dx, dy = s.tgt[i, 0] - rx, s.tgt[i, 1] - ry
            dist = math.sqrt(dx * dx + dy * dy) + 1e-6
            if dist < far and not (kind == L.R_PEN and i % 11 == 0):
                # give ground towards the own goal
                gx, gy = -L.HX * s.sg[d] - rx, -ry
                g = math.sqrt(gx * gx + gy * gy) + 1e-6
                dx, dy = dx + 3.0 * gx / g, dy + 3.0 * gy / g
                dist = math.sqrt(dx * dx + dy * dy) + 1e-6
                s.tgt[i, 0] = clip(rx + dx / dist * (far + 0.3), -52.0, 52.0)
                s.tgt[i, 1] = clip(ry + dy / dist * (far + 0.3), -33.8, 33.8)
    if kind == L.R_FREE and s.n[L.INPH] == L.ISET:
        ax, ay = rx * s.sg[k], ry * s.sg[k]
        gx, gy = L.HX - ax, -ay
        g = math.sqrt(gx * gx + gy * gy)
        if g < 30.0:
            m = 0
            for i in range(11 * d + 1, 11 * d + 11):
                if s.q[i, L.ON] and s.q[i, L.MARK] < 0 and s.q[i, L.LINE] >= 2 and m < 4 and not s.q[i, L.LEAVING]:
                    o = (m - 1.5) * 0.75
                    set_target(s, i, k, ax + gx / g * 9.5 - gy / g * o, ay + gy / g * 9.5 + gx / g * o)
                    m += 1
    if taker >= 0:
        tx, ty = rx, ry
        back = 0.6
        if kind == L.R_THROW:
            ty = ry + (0.4 if ry > 0 else -0.4)
        elif kind == L.R_CORNER:
            tx = rx + (0.4 if rx > 0 else -0.4)
            ty = ry + (0.4 if ry > 0 else -0.4)
        else:
            tx = rx - back * s.sg[k]
        s.tgt[taker, 0], s.tgt[taker, 1] = tx, ty
    for i in range(22):
        if s.q[i, L.ON] == 0:
            continue
        dist = dist_to(s, i, s.tgt[i, 0], s.tgt[i, 1])
        cap = clip(0.6 + s.c[L.C_DEAD] * dist, 0.7, 1.95)
        if left < 12.0:
            cap = clip(max(cap, dist / max(2.0, left - 1.5)), 0.8, 5.0)
        if i == taker:
            cap = max(cap, 3.0 if dist > 6.0 else 1.6)
        s.cap[i] = cap


@compiled
def legal_now(s):
    """The law allows the restart: halves at a kick-off, the box at a penalty, the distance of opponents."""
    k, d = s.n[L.RTEAM], 1 - s.n[L.RTEAM]
    kind = s.n[L.RESTART]
    for i in range(22):
        if s.q[i, L.ON] == 0 or i == s.n[L.TAKER]:
            continue
        team = i // 11
        ax = s.pos[i, 0] * s.sg[team]
        if kind == L.R_KICKOFF:
            if ax > 0.0 or (team == d and math.sqrt(s.pos[i, 0] ** 2 + s.pos[i, 1] ** 2) < 9.15):
                return False
        elif kind == L.R_PEN:
            if i % 11 > 0 and s.pos[i, 0] * s.sg[k] > 36.0 and abs(s.pos[i, 1]) < 20.16:
                return False
        elif team == d:
            far = 1.9 if kind == L.R_THROW else 9.1
            near = dist_to(s, i, s.f[L.RX], s.f[L.RY]) < far
            if kind != L.R_GOALKICK and near and abs(s.pos[i, 0]) < 52.3:
                return False
    return True


@compiled
def dead_ball(s, rng):
    """Everything between the whistle and the restart; called five times a second."""
    t = clock(s)
    left = s.f[L.T_READY] - t
    dead_targets(s, rng, left)
    taker = s.n[L.TAKER]
    for i in range(22):  # a man on his way off goes to the touchline at halfway
        if s.q[i, L.LEAVING]:
            s.tgt[i, 0] = 1.5 if i < 11 else -1.5
            s.tgt[i, 1] = -L.HY - 1.0
            s.cap[i] = 3.6
    if s.n[L.SUB_HOLD] > 0 or left > 0.0:
        return
    b = s.ball
    gap = math.sqrt((b[0] - s.f[L.RX]) ** 2 + (b[1] - s.f[L.RY]) ** 2)
    there = dist_to(s, taker, b[0], b[1]) < 0.95
    if there and gap < 0.35 and (legal_now(s) or left < -25.0):
        k = s.n[L.RTEAM]
        b[0], b[1] = b[0], b[1]
        b[3], b[4], b[5] = 0.0, 0.0, 0.0
        nin, nout, coin = s.n[L.INPH], s.n[L.OUTPH], s.n[L.PRESS_ON]
        s.n[L.ALIVE] = 1
        s.n[L.INPH], s.n[L.OUTPH] = 0, 0
        if nin == L.ISET:
            set_in(s, rng, L.ISET)
            s.n[L.OUTPH] = L.OSET
            s.f[L.T_OUT] = t
            s.n[L.SP_PAT] = log_pattern(s, L.T_SET, k, taker, -1, -1, -1)
            s.pat[s.n[L.SP_PAT], L.A_A] = s.n[L.RESTART]
        else:
            open_settled(s, rng)
            s.n[L.PRESS_ON] = coin
            if nin == L.BUILD and nout == L.HIGH and s.n[L.RESTART] == L.R_GOALKICK:
                r = log_pattern(s, L.T_PRESSJ, 1 - k, -1, -1, -1, -1)
                s.pat[r, L.A_A] = L.C_GOALKICK
                s.n[L.PR_PAT] = r
                s.f[L.T_PRESS] = t + 5.0
            set_out(s, rng, nout)
        s.n[L.LAST_TOUCH_TEAM] = k
        s.n[L.SETTLE] = 0
        deliver(s, rng, taker)
        s.n[L.RESTART] = L.R_NONE


@compiled
def give_foul(s, rng, i, h):
    """Player ``i`` has fouled ``h``."""
    k = h // 11
    x, y = s.ball[0], s.ball[1]
    e = log_event(s, L.K_FOUL, i // 11, i, x, y)
    s.n[L.FOULS] += 1
    s.ev[e, L.E_RECV] = s.q[h, L.PID]
    if s.q[i, L.BOOKED] == 0 and rng.random() < 0.14:
        s.q[i, L.BOOKED] = 1
        c = log_event(s, L.K_CARD, i // 11, i, x, y)
        s.ev[c, L.E_DETAIL] = L.D_YELLOW
        s.ev[c, L.E_REL] = e
    ax = x * s.sg[k]
    if ax > 36.0 and abs(y) < 20.16:
        award(s, rng, L.R_PEN, k, 41.5 * s.sg[k], 0.0)
    else:
        award(s, rng, L.R_FREE, k, clip(x, -51.5, 51.5), clip(y, -33.5, 33.5))


@compiled
def check_out(s, rng):
    """The whole of the ball over a line: goal, corner, goal kick or throw-in."""
    x, y, z = s.ball[0], s.ball[1], s.ball[2]
    if abs(x) <= L.HX + 0.11 and abs(y) <= L.HY + 0.11:
        return
    last = s.n[L.LAST]
    lt = s.n[L.LAST_TOUCH_TEAM]
    if abs(x) > L.HX + 0.11:
        right = 1.0 if x > 0 else -1.0
        k = 0 if s.sg[0] == right else 1  # the side that attacks this end
        if abs(y) < 3.66 and z < 2.44:
            if s.n[L.CUR_SHOT] >= 0:
                close_shot(s, L.O_GOAL)
            elif lt == k and s.n[L.CUR_PASS] >= 0:
                e = s.n[L.CUR_PASS]
                close_pass(s, -1, 1, L.O_GOAL)
                s.ev[e, L.E_KIND] = L.K_SHOT
                s.ev[e, L.E_DETAIL] = L.D_NONE
                s.n[L.SHOTS0 + k] += 1
            else:
                close_pass(s, -1, 0, L.O_INTER)
                e = log_event(s, L.K_SHOT, last // 11, last, x, y)
                s.ev[e, L.E_SUCC] = 1
                s.ev[e, L.E_OUT] = L.O_GOAL
                s.ev[e, L.E_EX], s.ev[e, L.E_EY] = x, y
                s.ev[e, L.E_END] = s.n[L.FRAME]
                if lt != k:
                    s.ev[e, L.E_DETAIL] = L.D_OWN
                s.ev[e, L.E_FREE] = 1
            s.n[L.GOALS0 + k] += 1
            e = log_event(s, L.K_OUT, lt, last, x, y)
            award(s, rng, L.R_KICKOFF, 1 - k, 0.0, 0.0)
            return
        close_shot(s, L.O_OFFT)
        close_pass(s, -1, 0, L.O_OUT)
        log_event(s, L.K_OUT, lt, last, x, y)
        side = 1.0 if y > 0 else -1.0
        if lt == k:
            award(s, rng, L.R_GOALKICK, 1 - k, right * 47.0, side * 6.0)
        else:
            award(s, rng, L.R_CORNER, k, right * 52.2, side * 33.7)
        return
    close_shot(s, L.O_OFFT)
    close_pass(s, -1, 0, L.O_OUT)
    log_event(s, L.K_OUT, lt, last, x, y)
    award(s, rng, L.R_THROW, 1 - lt, clip(x, -51.0, 51.0), L.HY if y > 0 else -L.HY)
