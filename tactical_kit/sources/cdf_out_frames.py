"""tracking.jsonl of the Common Data Format, made from a match, line by line."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from tactical_kit.match import Tracking
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_out import X_MAX, Y_MAX, Outgoing, safe, utc_text

__all__ = ["frame_lines"]


def frame_lines(out: Outgoing, tracking: Tracking) -> Iterator[str]:
    """Yield the lines of tracking.jsonl; players who are not there are left out of their frame."""
    names = [json.dumps(p, ensure_ascii=False) for p in tracking.players]
    side = np.asarray(tracking.team_index)
    order = [*np.flatnonzero(side == 0).tolist(), *np.flatnonzero(side == 1).tolist()]
    homes = int((side == 0).sum())
    home, away = (json.dumps(safe(t.team_id), ensure_ascii=False) for t in out.match.teams)
    match_id = json.dumps(out.match.match_id, ensure_ascii=False)
    limits = np.array([X_MAX, Y_MAX])
    templates: dict[bytes, str] = {}
    poss = {0: f',"poss_team_id":{home}', 1: f',"poss_team_id":{away}', -1: ',"poss_status":"uncontrolled"'}

    def template(there: NDArray[np.bool_]) -> str:
        listed = [
            f'{{"id":{names[c].replace("%", "%%")},"x":%.2f,"y":%.2f}}' if seen else "" for c, seen in zip(order, there)
        ]
        parts = [",".join(p for p in half if p) for half in (listed[:homes], listed[homes:])]
        teams = [t.replace("%", "%%") for t in (home, away)]
        return (
            f'"teams":{{"home":{{"id":{teams[0]},"players":[{parts[0]}]}},'
            f'"away":{{"id":{teams[1]},"players":[{parts[1]}]}}}},"ball":'
        )

    for number, span in tracking.iter_periods():
        head = f',"period":"{words.PERIOD_TO[number]}","match":{{"id":{match_id}}},'
        start, sign = out.starts[number], out.sign[number]
        for block in range(span.start, span.stop, 4096):
            rows = slice(block, min(block + 4096, span.stop))
            xy = np.round(tracking.xy[rows][:, order].astype(float) * sign, 2) + 0.0
            there = np.asarray(np.isfinite(xy).all(axis=2))
            beyond = np.abs(xy) > limits
            ball = np.round(tracking.ball[rows].astype(float) * [sign, sign, 1], 2) + 0.0
            far = np.abs(ball[:, :2]) > limits
            for mask, what in ((beyond, "place of a player"), (far, "place of the ball")):
                if mask.any():
                    out.count(
                        f"{what} far off the pitch",
                        f"at most {X_MAX:g} x {Y_MAX:g} m",
                        "It was moved to that limit.",
                        int(mask.any(axis=-1).sum()),
                    )
            np.clip(xy, -limits, limits, out=xy)
            ball[:, :2] = np.clip(ball[:, :2], -limits, limits)
            lost = ~np.isfinite(ball[:, :2]).all(axis=1)
            if lost.any():
                out.count("frame without the ball", "a place of the ball", "null was written.", int(lost.sum()))
            micro = np.rint(tracking.time_s[rows] * 1e6).astype(np.int64).tolist()
            alive = tracking.alive[rows].tolist()
            owner = [9] * len(alive) if tracking.owner is None else tracking.owner[rows].tolist()
            for i in range(len(alive)):
                mask_key = there[i].tobytes()
                if mask_key not in templates:
                    templates[mask_key] = template(there[i])
                stamp = utc_text(start + timedelta(microseconds=micro[i]))
                body = templates[mask_key] % tuple(xy[i][there[i]].ravel().tolist())
                bx, by, bz = ("null" if v != v else f"{v:.2f}" for v in ball[i].tolist())
                yield (
                    f'{{"frame_id":{block + i},"timestamp":"{stamp}"{head}{body}{{"x":{bx},"y":{by},"z":{bz},'
                    f'"status":{"true" if alive[i] else "false"}{poss.get(owner[i], "")}}}}}\n'
                )
