"""The pass network: who played with whom, from where, and who held it together."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.match import Match
from tactical_kit.measures.index import ActionCodes, MatchIndex
from tactical_kit.measures.selection import Selection, describe_gaps
from tactical_kit.measures.tables import typed_table

__all__ = ["PassNetwork", "network_measures", "pass_network"]

Span = tuple[int, float, float]  # period, start_s, end_s

PLAYER_COLUMNS: dict[str, str] = {
    "player": "str",  # id; of a position the id of whoever held it first
    "players": "object",  # tuple of ids: one by player, all who held the position by position
    "label": "str",  # shirt numbers, or names where there are none
    "name": "str",
    "position": "str",
    "x": "float64",  # mean place of passes made and received, attacking frame, m
    "y": "float64",
    "passes": "int64",
    "received": "int64",
    "minutes": "float64",  # on the pitch within the segment, a shoot-out left out
    "strength": "int64",  # passes + received
    "betweenness": "float64",
    "pagerank": "float64",
    "clustering": "float64",
}
LINK_COLUMNS: dict[str, str] = {
    "player": "str",
    "receiver": "str",
    "passes": "int64",
    "minutes_together": "float64",
    "per_90": "float64",  # passes in 90 minutes together on the pitch
    "x": "float64",  # place of the passer and of the receiver in the network, m
    "y": "float64",
    "end_x": "float64",
    "end_y": "float64",
}


@dataclass(frozen=True, eq=False)
class PassNetwork:
    """Completed passes of one side within a selection.

    Parameters
    ----------
    players : DataFrame
        One row a player (or position) with a pass: player, players, label, name, position, x, y, passes,
        received, minutes, strength, betweenness, pagerank, clustering.
    links : DataFrame
        One row a pair with at least `min_passes`: player, receiver, passes, minutes_together, per_90, x, y,
        end_x, end_y.  `player` and `receiver` are ids of the table `players`.
    summary : dict
        passes, links (all pairs), density, centroid_x, centroid_y (mean start of the passes, m),
        advance_ratio (metres along the pitch for each metre across, sum |dx| / sum |dy|).
    n : int
        Passes counted.
    note : str
        What was left out, or why there is little; "" if nothing.
    selection : Selection
        What was asked.
    team : str
        Id of the side.
    by : str
        "player" or "position".
    min_passes : int
        Fewest passes of a link in `links`.
    """

    players: pd.DataFrame
    links: pd.DataFrame
    summary: dict[str, float]
    n: int
    note: str
    selection: Selection
    team: str
    by: str
    min_passes: int


def pass_network(
    index: MatchIndex,
    selection: Selection | None = None,
    min_passes: int = 3,
    by: str = "player",
    damping: float = 0.85,
    few: int = 30,
) -> PassNetwork:
    """Draw up who completed passes to whom.

    Parameters
    ----------
    index : MatchIndex
        Needs events.
    selection : Selection, optional
        Default the whole match.  Without a team the home side is taken.
    min_passes : int, default 3
        A pair with at least this many passes is in `links`.  The measures use all passes.
    by : {"player", "position"}
        "position" joins a substitute with the player whose position label he takes over, if the two were
        never on the pitch together.
    damping : float, default 0.85
        Of PageRank.
    few : int, default 30
        With fewer passes than this the note warns.

    Returns
    -------
    PassNetwork
        Without a pass the tables are empty and typed.

    Raises
    ------
    UnknownNameError
        The selection names what the match does not know.
    TacticalKitError
        `min_passes` below 1.

    Notes
    -----
    Counted are passes that a player on the pitch completed to a side-mate on the pitch.  A place is the mean of
    where he passed from and where he received; own-frame metres, so ends may change in any period.
    Strength, betweenness, PageRank and clustering: see `network_measures`.
    Centroid and advance ratio: after Buldu et al. 2018, Front. Psychol. 9:1900, and 2019, Sci. Rep. 9
    (arXiv 1909.08903), definitions not verified.
    """
    selection = selection or Selection()
    check_choice("by", by, ("player", "position"))
    if min_passes < 1:
        raise TacticalKitError(f"min_passes is {min_passes}; expected at least 1.")
    selection.check_names(index.match, index.phase_names)
    match = index.match
    team = match.team(selection.team) if selection.team is not None else match.home
    notes = [] if selection.team is not None else [f"no side was chosen: {team.name}"]
    if not index.has_events:
        notes.append("a pass network needs events")
    if gaps := describe_gaps(index, selection, with_ball=True):
        notes.append(gaps)

    c = index.codes
    asked = selection.replace(team=team.team_id).action_mask(index)
    rows = np.flatnonzero(asked & c.is_kind("pass") & (c.success == 1) & (c.player >= 0) & (c.receiver >= 0))
    ids = np.array(index.player_ids, object)
    of_side = np.array([match.players[p].team_id == team.team_id for p in ids], bool)
    rows = rows[of_side[c.player[rows]] & of_side[c.receiver[rows]] & (c.player[rows] != c.receiver[rows])]
    stints = _Stints(match, ids, selection)
    there = stints.on_pitch(c.player[rows], c.period[rows], c.time_s[rows])
    there &= stints.on_pitch(c.receiver[rows], c.period[rows], c.time_s[rows])
    if not there.all():
        notes.append(f"{int((~there).sum())} passes of players who were not on the pitch by the line-up left out")
    rows = rows[there]

    slot = _slots(match, ids, stints) if by == "position" else np.arange(len(ids))
    players, links, summary = _network_tables(index, rows, slot, stints, min_passes, damping)
    n = int(summary["passes"])
    if summary["links_not_drawn"]:
        hidden = f"{summary['links_not_drawn']:.0f} of {summary['links']:.0f} pairs have"
        notes.append(f"{hidden} fewer than {min_passes} passes and are not drawn")
    if not n:
        notes.append("no completed pass fits the selection")
    elif n < few:
        notes.append(f"only {n} passes: places and links are rough")
    return PassNetwork(players, links, summary, n, "; ".join(notes), selection, team.team_id, by, min_passes)


def network_measures(passes: NDArray[np.integer], damping: float = 0.85) -> dict[str, NDArray[np.float64]]:
    """Measure how each player of a pass matrix holds the network together.

    Parameters
    ----------
    passes : (N, N) integer ndarray
        Passes from the player of the row to the player of the column.
    damping : float, default 0.85
        Of PageRank.

    Returns
    -------
    dict of (N,) float64 ndarray
        strength: passes made and received.  betweenness: share of the other pairs' shortest ways that lead
        over him, 0-1, the length of a link being 1 / passes.  pagerank: weighted by passes, sums to 1.
        clustering: how often his partners play with one another, directed and weighted (geometric mean of
        the three links, each over the largest link).

    Notes
    -----
    Ways of equal length are compared exactly: lengths are whole multiples of one over the least common
    multiple of the counts, so that 1/3 + 1/6 equals 1/2.
    Source: networkx `betweenness_centrality` and `pagerank`.  Link length 1 / passes after Pena & Touchette 2012
    (arXiv 1206.6904), from memory.  Clustering after Fagiolo 2007, Phys. Rev. E 76:026107, from memory; the same
    numbers as networkx `clustering` with weights, in matrix form, as that takes a tenth of the time.
    """
    import networkx as nx  # loaded on use: it takes a while, and only networks need it

    size = len(passes)
    out, into = np.nonzero(passes)
    weights = passes[out, into].astype(int).tolist()
    common = reduce(math.lcm, set(weights), 1)
    graph = nx.DiGraph()
    graph.add_nodes_from(range(size))
    graph.add_edges_from(
        (a, b, {"passes": w, "length": common // w}) for a, b, w in zip(out.tolist(), into.tolist(), weights)
    )
    between = nx.betweenness_centrality(graph, weight="length", normalized=True)
    rank = nx.pagerank(graph, alpha=damping, weight="passes", tol=1e-10, max_iter=500) if size else {}
    everyone = range(size)
    return {
        "strength": (passes.sum(axis=0) + passes.sum(axis=1)).astype(float),
        "betweenness": np.array([between[i] for i in everyone], float),
        "pagerank": np.array([rank[i] for i in everyone], float),
        "clustering": _clustering(passes),
    }


def _clustering(passes: NDArray[np.integer]) -> NDArray[np.float64]:
    size = len(passes)
    if not size or not passes.any():
        return np.zeros(size)
    cube_root = np.cbrt(passes / passes.max())
    triangles = np.linalg.matrix_power(cube_root + cube_root.T, 3).diagonal() / 2
    links = passes > 0
    degree = links.sum(axis=0) + links.sum(axis=1)
    possible = degree * (degree - 1) - 2 * (links & links.T).sum(axis=1)
    return np.divide(triangles, possible, out=np.zeros(size), where=possible > 0)


class _Stints:
    """Who was on the pitch when; `spans` are the same, cut to the segment of a selection."""

    def __init__(self, match: Match, ids: NDArray[np.object_], selection: Selection) -> None:
        table = match.stints
        code = {p: i for i, p in enumerate(ids)}
        rows = [
            (code[player], int(period), float(start), float(end))
            for player, period, start, end in zip(
                table["player"], table["period"], table["start_s"], table["end_s"], strict=True
            )
        ]
        rows.sort()
        lasts = {p.number: p.duration_s for p in match.periods}
        self._start = np.array([_key(who, period, start) for who, period, start, _ in rows])
        # The final whistle itself still belongs to those on the pitch.
        self._end = np.array([_key(who, period, end + (end >= lasts[period])) for who, period, _, end in rows])
        asked = selection.segment or tuple((p.number, 0.0, math.inf) for p in match.periods)
        asked = tuple(span for span in asked if span[0] < 5)  # nobody plays in a shoot-out
        self.whole: list[list[Span]] = [[] for _ in ids]
        self.spans: list[list[Span]] = [[] for _ in ids]
        for who, period, start, end in rows:
            self.whole[who].append((period, start, end))
        for who, spans in enumerate(self.whole):
            self.spans[who] = _overlap(spans, _merged(asked))

    def on_pitch(
        self, player: NDArray[np.integer], period: NDArray[np.integer], time_s: NDArray[np.floating]
    ) -> NDArray[np.bool_]:
        """Tell whether each player was on the pitch at each instant."""
        if not len(self._start):
            return np.zeros(len(player), bool)
        key = _key(player.astype(float), period.astype(float), time_s)
        row = np.searchsorted(self._start, key, side="right") - 1
        # A stint that began earlier for another player or period ended before this key.
        return (row >= 0) & (key < self._end[row])


def _key(player: Any, period: Any, time_s: Any) -> Any:
    return player * 1e6 + period * 1e5 + time_s


def _merged(spans: Iterable[Span]) -> list[Span]:
    """Join spans that overlap, so that no second counts twice."""
    result: list[Span] = []
    for period, start, end in sorted(spans):
        if result and result[-1][0] == period and start <= result[-1][2]:
            result[-1] = (period, result[-1][1], max(end, result[-1][2]))
        else:
            result.append((period, start, end))
    return result


def _overlap(first: Iterable[Span], second: Iterable[Span]) -> list[Span]:
    second = list(second)
    return [
        (p, max(a, c), min(b, d)) for p, a, b in first for q, c, d in second if p == q and max(a, c) < min(b, d)
    ]  # fmt: skip


def _minutes(spans: Iterable[Span]) -> float:
    return sum(end - start for _, start, end in spans) / 60


def _slots(match: Match, ids: NDArray[np.object_], stints: _Stints) -> NDArray[np.int64]:
    """Give each player the code of the player who held his position first."""
    slot = np.arange(len(ids))
    replaced = {}
    if match.events is not None:
        subs = match.events[match.events["kind"] == "substitution"]
        replaced = dict(zip(subs["receiver"], subs["player"], strict=True))
    code = {p: i for i, p in enumerate(ids)}
    held: dict[int, list[Span]] = {}
    came = sorted((spans[0], i) for i, spans in enumerate(stints.whole) if spans)
    for _, i in came:
        player, spans = match.players[ids[i]], stints.whole[i]
        same = [
            head for head, taken in held.items()
            if player.position and match.players[ids[head]].position == player.position
            and match.players[ids[head]].team_id == player.team_id and not _overlap(taken, spans)
        ]  # fmt: skip
        before = slot[code[replaced[ids[i]]]] if replaced.get(ids[i]) in code else -1
        if same:
            slot[i] = before if before in same else same[0]
        held.setdefault(int(slot[i]), []).extend(spans)
    return slot


def _network_tables(
    index: MatchIndex,
    rows: NDArray[np.int64],
    slot: NDArray[np.int64],
    stints: _Stints,
    min_passes: int,
    damping: float,
) -> tuple[pd.DataFrame, pd.DataFrame, dict[str, float]]:
    c, match, ids = index.codes, index.match, index.player_ids
    passer, receiver = slot[c.player[rows]], slot[c.receiver[rows]]
    apart = passer != receiver  # two holders of one position at the moment of the change
    rows, passer, receiver = rows[apart], passer[apart], receiver[apart]
    nodes, where = np.unique(np.concatenate([passer, receiver]), return_inverse=True)
    size = len(nodes)
    a, b = where[: len(rows)], where[len(rows) :]
    matrix = np.bincount(a * size + b, minlength=size * size).reshape(size, size)
    x, y = _places(c, rows, a, b, size)
    members = [[i for i in np.flatnonzero(slot == node).tolist() if stints.spans[i]] for node in nodes]
    spans = [_merged(s for i in group for s in stints.spans[i]) for group in members]
    made = {
        "player": [ids[node] for node in nodes],
        "players": [tuple(ids[i] for i in group) for group in members],
        "label": ["/".join(match.players[ids[i]].label for i in group) for group in members],
        "name": [" / ".join(match.players[ids[i]].name for i in group) for group in members],
        "position": [match.players[ids[node]].position for node in nodes],
        "x": x,
        "y": y,
        "passes": matrix.sum(axis=1),
        "received": matrix.sum(axis=0),
        "minutes": [_minutes(s) for s in spans],
        **network_measures(matrix, damping),
    }
    players = typed_table(PLAYER_COLUMNS, made)

    out, into = np.nonzero(matrix >= min_passes)
    together = np.array([_minutes(_overlap(spans[i], spans[j])) for i, j in zip(out, into, strict=True)], float)
    counts = matrix[out, into]
    names = np.array(made["player"], object)
    links = typed_table(LINK_COLUMNS, {
        "player": names[out], "receiver": names[into], "passes": counts, "minutes_together": together,
        "per_90": 90 * np.divide(counts, together, out=np.full(len(counts), np.nan), where=together > 0),
        "x": x[out], "y": y[out], "end_x": x[into], "end_y": y[into],
    })  # fmt: skip
    across = float(np.nansum(np.abs(c.end_y[rows] - c.y[rows])))
    along = float(np.nansum(np.abs(c.end_x[rows] - c.x[rows])))
    pairs = int((matrix > 0).sum())
    summary = {
        "passes": float(len(rows)),
        "links": float(pairs),
        "links_not_drawn": float(pairs - len(links)),
        "density": pairs / (size * (size - 1)) if size > 1 else math.nan,
        "centroid_x": _mean(c.x[rows]),
        "centroid_y": _mean(c.y[rows]),
        "advance_ratio": along / across if across > 0 else math.nan,
    }
    return players, links, summary


def _places(
    c: ActionCodes, rows: NDArray[np.int64], a: NDArray[np.integer], b: NDArray[np.integer], size: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean place of each node: where it passed from and where it received; NaN places do not count."""
    node = np.concatenate([a, b])
    result = []
    for start, end in ((c.x, c.end_x), (c.y, c.end_y)):
        value = np.concatenate([start[rows], end[rows]])
        known = np.isfinite(value)
        number = np.bincount(node[known], minlength=size)
        total = np.bincount(node[known], weights=value[known], minlength=size)
        result.append(np.divide(total, number, out=np.full(size, np.nan), where=number > 0))
    return result[0], result[1]


def _mean(values: NDArray[np.float64]) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else math.nan
