"""The simulator's working memory: which number sits in which column.

The engine runs in compiled loops over plain arrays. This module names the columns, the codes of
phases, restarts, events and patterns, and the ``WORLD`` record that carries the arrays around. It holds
no football: the football is in the modules that read these names.
"""

from __future__ import annotations

import numpy as np

__all__ = ["WORLD", "new_world"]

DT = 0.04  # the engine moves everybody 25 times a second
THINK = 5  # and thinks every fifth step
HX = 52.5
HY = 34.0

# ---- player attributes (WORLD att)
PACE, ACC, PASS, CTRL, DRIB, TACK, AIR, SHOT, KEEP, STAM = range(10)
N_ATT = 10

# ---- player whole numbers (WORLD q)
ON, PID, LINE, OFF, MARK, JOB, SIDE, BOOKED, LEAVING, FWD = range(10)
N_Q = 10
# LINE: 0 keeper, 1 back line, 2 midfield, 3 forward line of the block; SIDE: 1 wide player, 0 central;
# FWD: 1 for a man who plays on the last line in attack
# JOB: what he is told this moment
J_SHAPE, J_PRESS, J_COVER, J_CHASE, J_RECEIVE, J_RUN, J_MARK, J_CARRY, J_HUNT = range(9)

# ---- player real numbers (WORLD w)
NOTOUCH, STUN, RUN_UNTIL, RUN_X, RUN_Y, SUP_X, SUP_Y, HEAD_X, HEAD_Y, TIRED, MARK_SINCE, TTB, NEXT_SUP = range(13)
N_W = 13

# ---- ball (WORLD ball)
BX, BY, BZ, BVX, BVY, BVZ = range(6)

# ---- whole numbers of the game (WORLD n)
(
    FRAME,
    ALIVE,
    CTL,
    OWN,
    INPH,
    OUTPH,
    RESTART,
    TAKER,
    RTEAM,
    LAST,
    RECV,
    CUR_PASS,
    CUR_SHOT,
    N_EV,
    N_PAT,
    N_MK,
    BEST0,
    BEST1,
    PRESSER,
    COVERER,
    PRESS_ON,
    SETTLE,
    IN_CAND,
    OUT_CAND,
    CMB_KIND,
    CMB_A,
    CMB_B,
    CMB_C,
    CMB_PAT,
    LB_PAT,
    LB_STAGE,
    SHOT_WILL,
    KICKED,
    LAST_TOUCH_TEAM,
    SP_KIND,
    NEXT_IN,
    NEXT_OUT,
    CARRY_BY,
    SHOTS0,
    SHOTS1,
    FOULS,
    CORNERS,
    GOALS0,
    GOALS1,
    PERIOD,
    KICKOFF_TEAM,
    SUB_HOLD,
    PASS_FLAG,
    BU_PAT,
    RD_PAT,
    CP_PAT,
    PR_PAT,
    TRAP_PAT,
    CUE,
    CB_PAT,
    LOOSE,
    SP_PAT,
    BETW_PAT,
    DECIDED,
    FIRST_TOUCH,
    ADV,
    PREV_FROM,
    PASS_SP,
    PENDING_CARD,
    HANDS,
    CA_PAT,
) = range(66)
N_N = 80

# ---- real numbers of the game (WORLD f)
(
    T_READY,
    RX,
    RY,
    T_IN,
    T_OUT,
    T_DECIDE,
    T_KICK,
    LOSS_X,
    LOSS_Y,
    T_IN_CAND,
    T_OUT_CAND,
    IN_MAX,
    OUT_MAX,
    PASS_X0,
    PASS_Y0,
    TGT_X,
    TGT_Y,
    CTL_X,
    CTL_Y,
    T_CTL,
    CAR_X,
    CAR_Y,
    CAR_V,
    T_DEAD,
    SHOT_Y,
    SHOT_Z,
    T_CUE,
    CMB_T,
    T_LOSS,
    SETTLE_T,
    T_PRESS,
    SHOT_T,
    BLOCK_DIST,
    LB_T,
    TRAP_T,
    T_RELEASE,
    T_NOTACK,
    XG_SUM,
    PASS_ANG,
    PLAYED,
) = range(40)
N_F = 48

# ---- phases
P_NONE = 0
BUILD, PROG, FINAL, ATRANS, ISET = 1, 2, 3, 4, 5
HIGH, MID, LOW, DTRANS, CPRESS, OSET = 1, 2, 3, 4, 5, 6
IN_NAMES = ("", "build-up", "progression", "final third", "attacking transition", "set play")
OUT_NAMES = ("", "high press", "mid-block", "low block", "defensive transition", "counter-press", "set play")

# ---- restarts
R_NONE, R_KICKOFF, R_GOALKICK, R_THROW, R_CORNER, R_FREE, R_PEN, R_DROP = range(8)
RESTART_NAMES = ("", "kick-off", "goal-kick", "throw-in", "corner", "free-kick", "penalty", "drop-ball")

# ---- events (WORLD ev): columns
(
    E_FRAME,
    E_KIND,
    E_DETAIL,
    E_SP,
    E_TEAM,
    E_PLAYER,
    E_RECV,
    E_SUCC,
    E_OUT,
    E_X,
    E_Y,
    E_EX,
    E_EY,
    E_END,
    E_BODY,
    E_REL,
    E_FREE,
) = range(17)
N_E = 17
KINDS = (
    "pass",
    "carry",
    "shot",
    "take-on",
    "tackle",
    "interception",
    "recovery",
    "clearance",
    "block",
    "duel",
    "save",
    "claim",
    "touch",
    "foul",
    "offside",
    "out",
    "card",
    "substitution",
    "period-start",
    "period-end",
)
(
    K_PASS,
    K_CARRY,
    K_SHOT,
    K_TAKEON,
    K_TACKLE,
    K_INTER,
    K_RECOV,
    K_CLEAR,
    K_BLOCK,
    K_DUEL,
    K_SAVE,
    K_CLAIM,
    K_TOUCH,
    K_FOUL,
    K_OFFSIDE,
    K_OUT,
    K_CARD,
    K_SUB,
    K_START,
    K_END,
) = range(20)
DETAILS = ("", "cross", "long", "through", "cut-back", "header", "yellow", "second-yellow", "red", "own-goal")
D_NONE, D_CROSS, D_LONG, D_THROUGH, D_CUTBACK, D_HEADER, D_YELLOW, D_YELLOW2, D_RED, D_OWN = range(10)
OUTCOMES = (
    "",
    "complete",
    "intercepted",
    "out",
    "offside",
    "blocked",
    "goal",
    "saved",
    "off-target",
    "woodwork",
    "won",
    "lost",
)
(O_NONE, O_COMPLETE, O_INTER, O_OUT, O_OFFSIDE, O_BLOCKED, O_GOAL, O_SAVED, O_OFFT, O_WOOD, O_WON, O_LOST) = range(12)
BODIES = ("", "right_foot", "left_foot", "head", "hands", "other")
B_NONE, B_RIGHT, B_LEFT, B_HEAD, B_HANDS, B_OTHER = range(6)

# ---- patterns (WORLD pat): columns and codes
(A_TYPE, A_TEAM, A_F0, A_F1, A_P1, A_P2, A_P3, A_P4, A_A, A_B, A_DONE, A_X, A_Y) = range(13)
N_A = 13
PATTERNS = (
    "switch",
    "third man",
    "one-two",
    "wide trap",
    "press",
    "counter-press",
    "centre-back carry",
    "between-the-lines reception",
    "long ball",
    "build-up",
    "rest defence",
    "set play",
    "cross",
    "run in behind",
    "counter-attack",
)
(
    T_SWITCH,
    T_THIRD,
    T_ONETWO,
    T_TRAP,
    T_PRESSJ,
    T_CPRESS,
    T_CBCARRY,
    T_BETWEEN,
    T_LONG,
    T_BUILD,
    T_REST,
    T_SET,
    T_CROSS,
    T_BEHIND,
    T_COUNTER,
) = range(15)
CUES = (
    "",
    "back pass",
    "pass to keeper",
    "pass to full-back",
    "poor touch",
    "receiver facing own goal",
    "goal kick",
    "slow square pass",
)
(C_NONE, C_BACK, C_KEEPER, C_FULLBACK, C_TOUCH, C_FACING, C_GOALKICK, C_SQUARE) = range(8)

# ---- marking orders (WORLD mk): team, marker, marked, frame from, frame to, why
M_TEAM, M_BY, M_OF, M_F0, M_F1, M_WHY = range(6)
N_M = 6
MARK_WHY = ("", "press", "corner", "box", "free-kick")

# ---- script numbers (WORLD par): what the coach asks for
PAR_NAMES = (
    "press_high_share",
    "man_oriented",
    "mid_line_m",
    "low_line_m",
    "high_line_m",
    "block_length_m",
    "block_width_m",
    "engagement_m",
    "low_spell",
    "counter_press",
    "counter_attack",
    "tempo",
    "long_ball_share",
    "risk",
    "width_m",
    "switch_appetite",
    "trap_appetite",
    "cue_back_pass",
    "cue_keeper",
    "cue_full_back",
    "cue_poor_touch",
    "cue_facing_own_goal",
    "carry_out",
    "combination",
    "goal_kick_short",
    "corner_short",
    "corner_near",
    "man_at_corners",
    "cross_appetite",
    "run_appetite",
    "shot_appetite",
    "build_until_m",
    "cover_men",
    "time_wasting",
)
(
    PRESS_HIGH,
    MAN,
    MID_LINE,
    LOW_LINE,
    HIGH_LINE,
    BLEN,
    BWID,
    ENGAGE,
    LOW_SPELL,
    CPRESS_P,
    COUNTER_P,
    TEMPO,
    LONGB,
    RISK,
    WIDTH,
    SWITCH,
    TRAP,
    CUE_BACK,
    CUE_KEEPER,
    CUE_FB,
    CUE_TOUCH,
    CUE_FACING,
    CARRY_OUT,
    COMBI,
    GK_SHORT,
    CORNER_SHORT,
    CORNER_NEAR,
    MAN_CORNER,
    CROSS,
    RUNS,
    SHOOT,
    BUILD_UNTIL,
    COVER_MEN,
    WASTE,
) = range(34)
N_PAR = len(PAR_NAMES)

# ---- tuning (WORLD c): how eager, how exact, how strict; the same for both sides, kept in football.toml
TUNE_NAMES = (
    "switch_worth",
    "forward_worth",
    "cross_worth",
    "shot_eagerness",
    "least_shot_chance",
    "carry_out",
    "combine",
    "risk_up_front",
    "loss_cost",
    "shot_error",
    "behind_share",
    "pass_error",
    "keeper_level",
    "turned_behind",
    "foul_share",
    "tackle_rate",
    "poor_touch",
    "interception",
    "parried_behind",
    "pace_with_ball",
    "pace_without_ball",
    "runs",
    "pace_dead_ball",
    "dead_ball_wait",
    "lofted_cost",
    "block_chance",
    "shot_through_men",
    "look_up",
)
(
    C_SWITCH,
    C_FORWARD,
    C_CROSS,
    C_SHOOT,
    C_XGMIN,
    C_CARRYOUT,
    C_COMBI,
    C_RISK,
    C_LOSS,
    C_SHOTSD,
    C_BEHIND,
    C_PASSERR,
    C_SAVE,
    C_TURN,
    C_FOUL,
    C_TACKLE,
    C_SLIP,
    C_CUT,
    C_PARRY,
    C_WITH,
    C_WITHOUT,
    C_RUN,
    C_DEAD,
    C_WAIT,
    C_LOFT,
    C_BLOCK,
    C_TRAFFIC,
    C_THINK,
) = range(28)

MAX_EV, MAX_PAT, MAX_MK = 9000, 6000, 6000


# One record holds everything, so that compiled functions hand on a single pointer (they also compile in a third of
# the time a tuple of arrays takes). Slots 0-10 are the home side, 11-21 the visitors, keepers 0 and 11.
WORLD = np.dtype(
    [
        ("pos", "f8", (22, 2)),
        ("vel", "f8", (22, 2)),
        ("tgt", "f8", (22, 2)),
        ("cap", "f8", (22,)),
        ("att", "f8", (22, N_ATT)),
        ("q", "i8", (22, N_Q)),
        ("w", "f8", (22, N_W)),
        ("ball", "f8", (6,)),
        ("n", "i8", (N_N,)),
        ("f", "f8", (N_F,)),
        ("par", "f8", (2, N_PAR)),
        ("tpl", "f8", (2, 3, 11, 2)),
        ("sg", "f8", (2,)),
        ("ev", "f8", (MAX_EV, N_E)),
        ("pat", "f8", (MAX_PAT, N_A)),
        ("mk", "i8", (MAX_MK, N_M)),
        ("path", "f8", (45, 3)),
        ("base", "f8", (22, 2)),
        ("c", "f8", (len(TUNE_NAMES),)),
    ],
    align=True,
)


def new_world() -> np.record:
    """An empty working memory: zeros, with every "who" set to nobody.

    Returns
    -------
    numpy.record
        One record of type ``WORLD``.
    """
    world: np.record = np.zeros(1, WORLD).view(np.recarray)[0]
    world.sg[:] = 1.0
    for column in (
        CTL,
        LAST,
        RECV,
        CUR_PASS,
        CUR_SHOT,
        TAKER,
        PRESSER,
        COVERER,
        CMB_PAT,
        LB_PAT,
        CARRY_BY,
        BU_PAT,
        RD_PAT,
        CP_PAT,
        PR_PAT,
        TRAP_PAT,
        CB_PAT,
        CA_PAT,
        SP_PAT,
        BETW_PAT,
        BEST0,
        BEST1,
        CMB_A,
        CMB_B,
        CMB_C,
        PREV_FROM,
    ):
        world.n[column] = -1
    world.q[:, MARK] = -1
    return world
