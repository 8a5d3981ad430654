"""One instant: positions and velocities of both sides and the ball, wherever they come from."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.pitch import Pitch

__all__ = ["Snapshot"]


@dataclass(frozen=True, eq=False)
class Snapshot:
    """Both sides and the ball at one instant, N players, in the pitch frame.

    Parameters
    ----------
    period : int
        Period of the instant.
    time_s : float
        Seconds from its start.
    players : tuple of str
        Ids of the N players that are there.
    team_index : (N,) int8 ndarray
        0 home, 1 away.
    xy : (N, 2) ndarray
        Metres, no NaN.
    velocity : (N, 2) ndarray
        m/s; zeros where it is not known.
    ball, ball_velocity : (3,) ndarray
        Metres and m/s; NaN unknown.
    attack_signs : (int, int)
        +1 or -1: where the home and the away side attack.
    pitch : Pitch
        The field of play.
    origin : str, default "tracking"
        "tracking", "still" or "what-if".
    assumed : (N,) bool ndarray, optional
        True for players whose place is assumed, not seen.
    """

    period: int
    time_s: float
    players: tuple[str, ...]
    team_index: NDArray[np.int8]
    xy: NDArray[np.float64]
    velocity: NDArray[np.float64]
    ball: NDArray[np.float64]
    ball_velocity: NDArray[np.float64]
    attack_signs: tuple[int, int]
    pitch: Pitch = field(default_factory=Pitch)
    origin: str = "tracking"
    assumed: NDArray[np.bool_] | None = None

    def __post_init__(self) -> None:
        n = len(self.players)
        faults = [
            f"{name} has shape {np.shape(getattr(self, name))}, expected {shape}"
            for name, shape in (
                ("team_index", (n,)), ("xy", (n, 2)), ("velocity", (n, 2)), ("ball", (3,)), ("ball_velocity", (3,)),
            )
            if np.shape(getattr(self, name)) != shape
        ]  # fmt: skip
        if not faults and not np.isfinite(self.xy).all():
            faults.append("a position is not a finite number")
        if sorted(self.attack_signs) != [-1, 1]:
            faults.append(f"attack_signs are {self.attack_signs}, expected one +1 and one -1")
        if faults:
            raise TacticalKitError("Snapshot does not fit: " + "; ".join(faults) + ".")

    def __len__(self) -> int:
        return len(self.players)

    def side(self, team: int) -> NDArray[np.bool_]:
        """Return the mask of the players of one side (0 home, 1 away), shape (N,)."""
        return np.asarray(self.team_index) == team

    def attacking(self, team: int) -> Snapshot:
        """Return the same instant turned so that `team` (0 home, 1 away) attacks towards +x."""
        sign = self.attack_signs[team]
        turn = np.array([sign, sign, 1.0])
        return Snapshot(
            self.period, self.time_s, self.players, self.team_index, self.xy * sign, self.velocity * sign,
            self.ball * turn, self.ball_velocity * turn,
            (self.attack_signs[0] * sign, self.attack_signs[1] * sign), self.pitch, self.origin, self.assumed,
        )  # fmt: skip
