"""Play a story: run the engine over both halves, carrying out the plan and the substitutions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tactical_kit.errors import TacticalKitError

from . import _layout as L
from .script import PAR_DEFAULTS, SHAPE_KEYS, Script, ScriptTeam, load_football, load_script
from .truth import Truth, build_match, build_truth

if TYPE_CHECKING:
    from tactical_kit.match import Match

__all__ = ["DEMO_SEED", "SimulatedMatch", "simulate"]

DEMO_SEED = 2
ENGINE_HZ = 25
PLAYING = "simulating two halves"
PREPARING = "preparing the simulator, once after an installation: about a minute"


@dataclass(frozen=True)
class SimulatedMatch:
    """A simulated match and what its players were told.

    Attributes
    ----------
    match : Match
        Events and tracking, labelled as invented.
    truth : Truth
        Phases, owner, marking orders and patterns as the script and the players meant them.
    script : Script
        The story.
    seed : int
        Seed of all chance in it.
    exact_xy : ndarray, shape (T25, P, 2)
        Unrounded positions at the engine's 25 Hz, for checks of speed and acceleration.
    exact_ball : ndarray, shape (T25, 3)
        The same for the ball.
    exact_period : ndarray, shape (T25,)
        Period of each of these frames.
    """

    match: Match
    truth: Truth
    script: Script
    seed: int
    exact_xy: np.ndarray = field(repr=False)
    exact_ball: np.ndarray = field(repr=False)
    exact_period: np.ndarray = field(repr=False)


@dataclass
class Recording:
    """What one period left behind, in the engine's own codes."""

    number: int
    duration_s: float
    home_attacks: int
    xy: np.ndarray
    ball: np.ndarray
    flag: np.ndarray
    occupant: list[tuple[int, int, int]]
    events: np.ndarray
    patterns: np.ndarray
    marks: np.ndarray
    subs: list[tuple[int, int, int, int]]


def simulate(
    script: Script | str | Path | dict[str, Any] | None = None,
    seed: int = DEMO_SEED,
    rate_hz: int = 25,
    progress: Callable[[float, str], None] | None = None,
) -> SimulatedMatch:
    """Play a story once and write what a tracking system and an event logger would have seen.

    Parameters
    ----------
    script : Script, path, dict or None
        The story; None for the kit's own.
    seed : int
        Seed of all chance; the same seed gives the same match to the byte.
    rate_hz : int
        Frames a second of the tracking handed out: 25, 5 or 1. The engine always moves at 25.
    progress : callable, optional
        Called with the share played, 0 to 1, and what is being done, in words.

    Returns
    -------
    SimulatedMatch

    Raises
    ------
    ScriptError
        If the story cannot be played; all faults are listed.
    TacticalKitError
        If ``rate_hz`` is not 25, 5 or 1, or the seed is not a whole number from 0 up.

    Notes
    -----
    Simulated data: it shows what the kit can do, and proves nothing about football.
    """
    if rate_hz not in (25, 5, 1):
        raise TacticalKitError(f"rate_hz is {rate_hz!r}; expected 25, 5 or 1, which divide the engine's 25.")
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or seed < 0:
        raise TacticalKitError(f"seed is {seed!r}; expected a whole number from 0 up, such as 7.")
    story = script if isinstance(script, Script) else load_script(script)
    recordings = list(_play(story, int(seed), progress))
    match, exact = build_match(story, int(seed), recordings, rate_hz)
    truth = build_truth(story, recordings, match, rate_hz)
    return SimulatedMatch(match, truth, story, int(seed), *exact)


class _Side:
    """The coach's bench of one side: who stands in which slot, which plan holds, who waits to come on."""

    def __init__(self, team: ScriptTeam, number: int, first_pid: int) -> None:
        self.team, self.k = team, number
        self.pid = {p.player_id: first_pid + m for m, p in enumerate(team.players)}
        self.by_id = {p.player_id: p for p in team.players}
        self.slots = [p.slot for p in team.starters]
        self.occupant = [p.player_id for p in team.starters]
        self.plan_done = 0
        self.subs = list(team.substitutions)

    def apply_plan(self, world: np.record, script: Script, minute: float) -> None:
        """Make every plan entry up to this minute the side's orders."""
        while self.plan_done < len(self.team.plan) and self.team.plan[self.plan_done]["minute"] <= minute + 1e-9:
            entry = self.team.plan[self.plan_done]
            if self.plan_done == 0:
                for column, name in enumerate(L.PAR_NAMES):
                    world.par[self.k, column] = PAR_DEFAULTS[name]
            for key, value in entry.items():
                if key in SHAPE_KEYS:
                    spots = script.shapes[value]
                    for m, slot in enumerate(self.slots):
                        world.tpl[self.k, SHAPE_KEYS.index(key), m] = spots[slot]
                elif key in L.PAR_NAMES:
                    world.par[self.k, L.PAR_NAMES.index(key)] = value
            self.plan_done += 1
            self._set_lines(world)

    def _set_lines(self, world: np.record) -> None:
        for m in range(11):
            i = 11 * self.k + m
            depth, side = world.tpl[self.k, 2, m]
            attack_depth, attack_side = world.tpl[self.k, 1, m]
            world.q[i, L.LINE] = 0 if m == 0 else 1 if depth < 0.25 else 3 if depth > 0.74 else 2
            world.q[i, L.SIDE] = int(m > 0 and (abs(side) > 0.7 or abs(attack_side) > 0.75))
            world.q[i, L.FWD] = int(attack_depth >= 0.85)

    def seat(self, world: np.record, m: int, player_id: str) -> None:
        """Put a player into slot ``m``: his qualities become the slot's."""
        i = 11 * self.k + m
        q = self.by_id[player_id].qualities
        world.q[i, L.ON] = 1
        world.q[i, L.PID] = self.pid[player_id]
        world.q[i, L.BOOKED] = 0
        world.w[i, L.TIRED] = 0.0
        row = world.att[i]
        row[L.PACE] = 8.0 + 1.65 * q["pace"]
        row[L.ACC] = 5.15 + 0.75 * q["acceleration"]
        for column, name in (
            (L.PASS, "passing"),
            (L.CTRL, "control"),
            (L.DRIB, "dribbling"),
            (L.TACK, "tackling"),
            (L.AIR, "air"),
            (L.SHOT, "shooting"),
            (L.KEEP, "keeping"),
            (L.STAM, "stamina"),
        ):
            row[column] = q[name]
        self.occupant[m] = player_id


def _play(script: Script, seed: int, progress: Callable[[float, str], None] | None):  # type: ignore[no-untyped-def]
    from ._compiled import is_prepared
    from ._engine import advance, prepare_kickoff

    if progress:
        progress(0.0, PLAYING if is_prepared(prepare_kickoff, advance) else PREPARING)
    rng = np.random.default_rng(seed)
    world = L.new_world()
    tuning = {**load_football(), **script.football}
    world.c[:] = [tuning[name] for name in L.TUNE_NAMES]
    sides = (_Side(script.home, 0, 0), _Side(script.away, 1, len(script.home.players)))
    for side in sides:
        side.apply_plan(world, script, 0.0)
        for m, player_id in enumerate(list(side.occupant)):
            side.seat(world, m, player_id)
    first_kick = int(rng.integers(2))
    home_attacks = 1 if rng.random() < 0.5 else -1
    total = 2 * script.half_s + 350.0
    played = 0.0
    for number in (1, 2):
        added = script.added_first_s if number == 1 else script.added_second_s
        duration = script.half_s + added[0] + (added[1] - added[0]) * rng.random()
        sign = home_attacks if number == 1 else -home_attacks
        world.sg[0], world.sg[1] = sign, -sign
        world.n[L.FRAME] = 0
        world.n[L.SUB_HOLD] = 0
        world.q[:, L.LEAVING] = 0
        world.n[L.PERIOD] = number
        world.n[L.N_EV] = world.n[L.N_PAT] = world.n[L.N_MK] = 0
        for column in (
            L.LB_PAT,
            L.BU_PAT,
            L.RD_PAT,
            L.CP_PAT,
            L.PR_PAT,
            L.TRAP_PAT,
            L.CB_PAT,
            L.CA_PAT,
            L.SP_PAT,
            L.CMB_PAT,
            L.BETW_PAT,
            L.CTL,
        ):
            world.n[column] = -1
        world.w[:, L.NOTOUCH] = world.w[:, L.RUN_UNTIL] = world.w[:, L.NEXT_SUP] = -1.0
        world.w[:, L.STUN] = 0.0
        world.f[:] = 0.0
        world.f[L.T_NOTACK] = -1.0
        occupants = [(0, i, int(world.q[i, L.PID])) for i in range(22)]
        longest = int((duration + 45) * ENGINE_HZ)
        xy = np.full((longest, 22, 2), np.nan)
        ball = np.zeros((longest, 3))
        flag = np.zeros((longest, 5), np.int8)
        prepare_kickoff(world, rng, first_kick if number == 1 else 1 - first_kick)
        subs: list[tuple[int, int, int, int]] = []
        waiting: list[tuple[_Side, int, str]] = []
        while True:
            frame = int(world.n[L.FRAME])
            time_s = frame / ENGINE_HZ
            if time_s >= duration and (
                not world.n[L.ALIVE] or (abs(world.ball[0]) < 22 and world.n[L.CTL] >= 0) or time_s > duration + 40
            ):
                break
            minute = (number - 1) * script.half_s / 60 + time_s / 60
            if number == 1:
                minute = min(minute, script.half_s / 60 - 1e-6)
            for side in sides:
                side.apply_plan(world, script, minute)
                while side.subs and side.subs[0]["minute"] <= minute:
                    order = side.subs.pop(0)
                    waiting.append((side, side.occupant.index(order["off"]), order["on"]))
            # changes are made while the ball is dead: the man walks off, then the next comes on
            if not world.n[L.ALIVE] and waiting and world.n[L.RESTART] != L.R_PEN:
                world.n[L.SUB_HOLD] = 1
                still = []
                for side, m, comes in waiting:
                    i = 11 * side.k + m
                    if world.n[L.TAKER] == i:
                        world.n[L.TAKER] = 11 * side.k + (m % 10) + 1 if (m % 10) + 1 != m else 11 * side.k + 1
                    world.q[i, L.LEAVING] = 1
                    if abs(world.pos[i, 1] + L.HY + 1.0) < 1.2 and abs(world.pos[i, 0]) < 3.0:
                        subs.append((frame, side.k, int(world.q[i, L.PID]), side.pid[comes]))
                        side.seat(world, m, comes)
                        world.q[i, L.LEAVING] = 0
                        world.pos[i] = (2.5 if side.k == 0 else -2.5, -L.HY - 0.5)
                        world.vel[i] = 0.0
                        occupants.append((frame, i, side.pid[comes]))
                    else:
                        still.append((side, m, comes))
                waiting = still
                if not waiting:
                    world.n[L.SUB_HOLD] = 0
                    world.f[L.T_READY] = max(world.f[L.T_READY], time_s + 8.0)
            step = 10 if waiting else 50
            advance(world, rng, step, xy, ball, flag)
            if progress and frame % 1500 == 0:
                progress(min(0.99, (played + time_s) / total), PLAYING)
        frames = int(world.n[L.FRAME])
        played += frames / ENGINE_HZ
        yield Recording(
            number,
            frames / ENGINE_HZ,
            sign,
            xy[:frames],
            ball[:frames],
            flag[:frames],
            occupants,
            world.ev[: world.n[L.N_EV]].copy(),
            world.pat[: world.n[L.N_PAT]].copy(),
            world.mk[: world.n[L.N_MK]].copy(),
            subs,
        )
    if progress:
        progress(1.0, PLAYING)
