"""What each side is told to do now, and when the word changes.

The words are the coach's: a side that wins the ball breaks until it is told to settle; the side that lost
it hunts or runs back as told; a press is called off when it is beaten. Calls take time to be heard: every
change waits for a short delay. These orders are what the truth tables hold.
"""

from __future__ import annotations

import math

from . import _layout as L
from ._compiled import compiled
from ._space import clock, end_pattern, goal_side_count, line_of, log_pattern

__all__ = ["open_settled", "possession_won", "release_marks", "set_in", "set_out", "update_phases"]


@compiled
def release_marks(s, k):
    """Team ``k`` lets go of its men: open marking orders end now."""
    for r in range(s.n[L.N_MK]):
        if s.mk[r, L.M_TEAM] == k and s.mk[r, L.M_F1] < 0:
            s.mk[r, L.M_F1] = s.n[L.FRAME]
    for i in range(11 * k, 11 * k + 11):
        s.q[i, L.MARK] = -1


@compiled
def order_mark(s, i, j, why):
    """Player ``i`` is told to mark opponent ``j``."""
    s.q[i, L.MARK] = j
    r = s.n[L.N_MK]
    if r < L.MAX_MK:
        s.n[L.N_MK] = r + 1
        s.mk[r, L.M_TEAM] = 0 if i < 11 else 1
        s.mk[r, L.M_BY] = s.q[i, L.PID]
        s.mk[r, L.M_OF] = s.q[j, L.PID]
        s.mk[r, L.M_F0] = s.n[L.FRAME]
        s.mk[r, L.M_F1] = -1
        s.mk[r, L.M_WHY] = why


@compiled
def assign_men(s, d, why):
    """Every outfield player but the spare centre-back is given a man, nearest pairs first."""
    release_marks(s, d)
    k = 1 - d
    spare = -1
    deepest = 99.0
    for i in range(11 * d + 1, 11 * d + 11):  # the most central of the back line stays free
        if s.q[i, L.ON] and s.q[i, L.LINE] == 1 and s.q[i, L.SIDE] == 0:
            v = abs(s.base[i, 1]) + 0.01 * i
            if v < deepest:
                deepest, spare = v, i
    free_opponent = -1  # so one opponent stays free: the deepest centre-back away from the ball
    low = 99.0
    for j in range(11 * k + 1, 11 * k + 11):
        if s.q[j, L.ON] and s.q[j, L.LINE] == 1 and s.q[j, L.SIDE] == 0:
            v = s.pos[j, 0] * s.sg[k] - 0.3 * abs(s.pos[j, 1] - s.ball[1])
            if v < low:
                low, free_opponent = v, j
    for _ in range(10):
        best, bi, bj = 1e9, -1, -1
        for i in range(11 * d + 1, 11 * d + 11):
            if s.q[i, L.ON] == 0 or s.q[i, L.MARK] >= 0 or i == spare:
                continue
            for j in range(11 * k + 1, 11 * k + 11):
                if s.q[j, L.ON] == 0 or j == free_opponent:
                    continue
                taken = False
                for m in range(11 * d + 1, 11 * d + 11):
                    if s.q[m, L.MARK] == j:
                        taken = True
                if taken:
                    continue
                c = (s.base[i, 0] - s.pos[j, 0]) ** 2 + (s.base[i, 1] - s.pos[j, 1]) ** 2
                c += 0.5 * ((s.pos[i, 0] - s.pos[j, 0]) ** 2 + (s.pos[i, 1] - s.pos[j, 1]) ** 2)
                if c < best:
                    best, bi, bj = c, i, j
        if bi < 0:
            break
        order_mark(s, bi, bj, why)


@compiled
def set_in(s, rng, ph):
    """The side with the ball is told to play phase ``ph``."""
    if s.n[L.INPH] == ph and ph != L.ATRANS:
        return
    t = clock(s)
    k, d = s.n[L.OWN], 1 - s.n[L.OWN]
    old = s.n[L.INPH]
    s.n[L.INPH] = ph
    s.f[L.T_IN] = t
    s.n[L.IN_CAND] = 0
    s.n[L.SETTLE] = 0
    if old == L.BUILD:
        end_pattern(s, L.BU_PAT, 1 if ph == L.PROG or ph == L.FINAL else 0)
    if old == L.ATRANS and ph > 0 and ph != L.ATRANS:
        end_pattern(s, L.CA_PAT, 1 if ph == L.FINAL else 0)
    if old == L.FINAL:
        end_pattern(s, L.RD_PAT, -1)
    if ph == L.BUILD:
        n_for, n_against = 0, 0
        for i in range(1, 11):
            if s.tpl[k, 0, i, 0] < 0.30:
                n_for += 1
            if s.tpl[d, 2, i, 0] > 0.74:
                n_against += 1
        s.n[L.PRESS_ON] = 1 if rng.random() < s.par[d, L.PRESS_HIGH] else 0
        if s.n[L.PRESS_ON] and s.par[d, L.MAN] > 0.5:
            n_against += 1
        r = log_pattern(s, L.T_BUILD, k, -1, -1, -1, -1)
        s.pat[r, L.A_A] = n_for
        s.pat[r, L.A_B] = n_against
        s.n[L.BU_PAT] = r
    if ph == L.FINAL:
        r = log_pattern(s, L.T_REST, k, -1, -1, -1, -1)
        c, m = L.A_P1, 0
        for i in range(11 * k + 1, 11 * k + 11):
            if s.q[i, L.ON] and s.tpl[k, 1, i - 11 * k, 0] < 0.34:
                m += 1
                if m <= 4:
                    s.pat[r, c] = s.q[i, L.PID]
                    c += 1
        s.pat[r, L.A_A] = m
        s.n[L.RD_PAT] = r
    if ph == L.ATRANS:
        s.f[L.IN_MAX] = 8.0 + 3.0 * rng.random()
    if ph == L.ISET:
        s.f[L.IN_MAX] = 7.5 + 2.0 * rng.random()


@compiled
def set_out(s, rng, ph):
    """The side without the ball is told to play phase ``ph``."""
    if s.n[L.OUTPH] == ph and ph != L.DTRANS and ph != L.CPRESS:
        return
    t = clock(s)
    d = 1 - s.n[L.OWN]
    s.n[L.OUTPH] = ph
    s.f[L.T_OUT] = t
    s.n[L.OUT_CAND] = 0
    release_marks(s, d)
    if ph != L.CPRESS:
        end_pattern(s, L.CP_PAT, 0)
    if ph == L.CPRESS:
        s.f[L.OUT_MAX] = 4.3 + 1.2 * rng.random()
    if (ph == L.HIGH and s.par[d, L.MAN] > 0.5) or (ph == L.MID and s.par[d, L.MAN] > 0.85):
        assign_men(s, d, 1)


@compiled
def open_settled(s, rng):
    """Settled possession begins: which phase follows from where the ball is."""
    k = s.n[L.OWN]
    bax = s.ball[0] * s.sg[k]
    if bax < s.par[k, L.BUILD_UNTIL]:
        set_in(s, rng, L.BUILD)
    elif bax > 17.5:
        set_in(s, rng, L.FINAL)
    else:
        set_in(s, rng, L.PROG)


@compiled
def choose_block(s, rng):
    """The organised side takes up the block it was told to take for a ball in this place."""
    d = 1 - s.n[L.OWN]
    bdx = s.ball[0] * s.sg[d]
    if bdx < -16.0 or (s.par[d, L.LOW_SPELL] > 0.5 and bdx < 12.0):
        set_out(s, rng, L.LOW)
    elif bdx > 18.0 and s.n[L.INPH] == L.BUILD and s.n[L.PRESS_ON]:
        set_out(s, rng, L.HIGH)
    else:
        set_out(s, rng, L.MID)


@compiled
def possession_won(s, rng, k, i):
    """Team ``k`` (player ``i``) has taken the ball off the other side in open play."""
    t = clock(s)
    d = 1 - k
    end_pattern(s, L.BU_PAT, 0)
    end_pattern(s, L.RD_PAT, -1)
    end_pattern(s, L.CP_PAT, 1)
    end_pattern(s, L.PR_PAT, 1)
    end_pattern(s, L.TRAP_PAT, 1)
    end_pattern(s, L.SP_PAT, 0)
    end_pattern(s, L.CB_PAT, 0)
    end_pattern(s, L.CA_PAT, 0)
    s.n[L.CMB_KIND] = 0
    end_pattern(s, L.CMB_PAT, 0)
    release_marks(s, 0)
    release_marks(s, 1)
    s.n[L.OWN] = k
    s.n[L.INPH] = 0
    s.f[L.LOSS_X] = s.ball[0]
    s.f[L.LOSS_Y] = s.ball[1]
    s.f[L.T_LOSS] = t
    s.f[L.T_PRESS] = -9.0
    s.f[L.TRAP_T] = -9.0
    s.n[L.PRESSER] = -1
    set_in(s, rng, L.ATRANS)
    near, p1, p2 = 0, -1, -1
    for j in range(11 * d + 1, 11 * d + 11):
        if s.q[j, L.ON] and math.sqrt((s.pos[j, 0] - s.ball[0]) ** 2 + (s.pos[j, 1] - s.ball[1]) ** 2) < 13.0:
            near += 1
            if p1 < 0:
                p1 = j
            elif p2 < 0:
                p2 = j
    chance = s.par[d, L.CPRESS_P]
    if s.ball[0] * s.sg[d] < -25.0:
        chance *= 0.5
    if i % 11 == 0:  # a keeper with the ball in his hands is not hunted
        chance = 0.0
    if near >= 2 and rng.random() < chance:
        set_out(s, rng, L.CPRESS)
        s.n[L.CP_PAT] = log_pattern(s, L.T_CPRESS, d, p1, p2, -1, -1)
    else:
        set_out(s, rng, L.DTRANS)
    if rng.random() < s.par[k, L.COUNTER_P] and i % 11 > 0:
        s.n[L.SETTLE] = 0
        s.n[L.CA_PAT] = log_pattern(s, L.T_COUNTER, k, i, -1, -1, -1)
    else:  # told to keep it: the first safe pass settles the side
        s.n[L.SETTLE] = 1
        s.f[L.SETTLE_T] = t + 2.0 + 1.6 * rng.random()


@compiled
def block_stands(s, d):
    """True when the outfield players are near the places the block gives them."""
    total, count = 0.0, 0
    for i in range(11 * d + 1, 11 * d + 11):
        if s.q[i, L.ON]:
            total += min(20.0, math.sqrt((s.pos[i, 0] - s.base[i, 0]) ** 2 + (s.pos[i, 1] - s.base[i, 1]) ** 2))
            count += 1
    return total / max(1, count)


@compiled
def update_phases(s, rng):
    """Listen to the calls: change the phase of either side when its coach's condition has lasted."""
    t = clock(s)
    k = s.n[L.OWN]
    d = 1 - k
    bax = s.ball[0] * s.sg[k]
    bdx = -bax
    held = s.n[L.CTL] >= 0 and s.n[L.CTL] // 11 == k
    ph = s.n[L.INPH]
    since = t - s.f[L.T_IN]
    if ph == L.ATRANS:
        back = goal_side_count(s, d, bdx, 1.0)
        if since > s.f[L.IN_MAX] or (s.n[L.SETTLE] and t >= s.f[L.SETTLE_T] and held):
            open_settled(s, rng)
        elif held and s.n[L.SETTLE] == 0 and since > 3.0 and back >= 8 and bax < 36.0:
            s.n[L.SETTLE] = 1
            s.f[L.SETTLE_T] = t + 0.6
    elif ph == L.ISET:
        if since > s.f[L.IN_MAX] or (held and since > 3.5 and bax < 0.0 and s.n[L.SP_KIND] != L.R_KICKOFF):
            end_pattern(s, L.SP_PAT, 0)
            open_settled(s, rng)
    else:
        first = -line_of(s, d, 3)
        cand = ph
        if held:
            if ph == L.BUILD:
                if (bax > first + 1.0 and bax > -19.0) or bax > s.par[k, L.BUILD_UNTIL]:
                    cand = L.FINAL if bax > 17.5 else L.PROG
            elif ph == L.PROG:
                if bax > 17.5:
                    cand = L.FINAL
                elif bax < min(first - 2.0, s.par[k, L.BUILD_UNTIL] - 4.0):
                    cand = L.BUILD
            elif ph == L.FINAL and bax < 11.0:
                cand = L.PROG
        if cand == ph:
            if held:
                s.n[L.IN_CAND] = 0
        elif s.n[L.IN_CAND] != cand:
            s.n[L.IN_CAND] = cand
            s.f[L.T_IN_CAND] = t
        if s.n[L.IN_CAND] > 0:
            wait = 0.4 if s.n[L.IN_CAND] > ph else 0.9
            if t - s.f[L.T_IN_CAND] >= wait:
                set_in(s, rng, s.n[L.IN_CAND])

    op = s.n[L.OUTPH]
    since = t - s.f[L.T_OUT]
    if op == L.CPRESS:
        gone = math.sqrt((s.ball[0] - s.f[L.LOSS_X]) ** 2 + (s.ball[1] - s.f[L.LOSS_Y]) ** 2)
        forward = bax - s.f[L.LOSS_X] * s.sg[k]
        near = 99.0
        for j in range(11 * d + 1, 11 * d + 11):
            if s.q[j, L.ON]:
                near = min(near, math.sqrt((s.pos[j, 0] - s.ball[0]) ** 2 + (s.pos[j, 1] - s.ball[1]) ** 2))
        beaten = gone > 19.0 or (since > 1.2 and forward > 11.0) or (held and since > 1.8 and near > 5.5)
        if beaten or since > s.f[L.OUT_MAX]:
            if block_stands(s, d) < 6.0 and since > 3.0:
                choose_block(s, rng)
            else:
                set_out(s, rng, L.DTRANS)
    elif op == L.DTRANS:
        if (since > 1.6 and block_stands(s, d) < 6.5 and goal_side_count(s, d, bdx, 1.0) >= 6) or since > 9.0:
            choose_block(s, rng)
    elif op == L.OSET:
        if s.n[L.INPH] != L.ISET:
            choose_block(s, rng)
    else:
        cand = op
        wait = 0.8
        if op == L.HIGH:
            if bdx < 6.0:
                cand, wait = L.MID, 0.5
            elif s.n[L.INPH] == L.PROG and bdx < 15.0:
                cand, wait = L.MID, 0.9
        elif op == L.MID:
            if bdx < -17.0:
                cand, wait = L.LOW, 0.9
            elif s.par[d, L.LOW_SPELL] > 0.5 and bdx < 8.0:
                cand, wait = L.LOW, 1.0
            elif s.n[L.INPH] == L.BUILD and s.n[L.PRESS_ON] and bdx > 19.0:
                cand, wait = L.HIGH, 0.6
        elif op == L.LOW:
            release = 16.0 if s.par[d, L.LOW_SPELL] > 0.5 else -6.0
            if bdx > release:
                cand, wait = L.MID, 1.2
        if cand == op:
            s.n[L.OUT_CAND] = 0
        else:
            if s.n[L.OUT_CAND] != cand:
                s.n[L.OUT_CAND] = cand
                s.f[L.T_OUT_CAND] = t
            if t - s.f[L.T_OUT_CAND] >= wait:
                set_out(s, rng, cand)
