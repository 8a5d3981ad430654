"""The charts as plain functions for a notebook cell: a match goes in, a Scene comes out."""

from __future__ import annotations

from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex, index_match
from tactical_kit.measures.pass_network import pass_network
from tactical_kit.measures.pressure import pressure_map, whole_match_of
from tactical_kit.measures.progression import progression_zones
from tactical_kit.measures.selection import Selection, count_conditions
from tactical_kit.phases import find_phases
from tactical_kit.pitch import ZoneGrid
from tactical_kit.scenes.charts import network_scene, pressure_scene, progression_scene, snapshot_scene
from tactical_kit.scenes.scene import Scene

__all__ = ["empty_because", "show_instant", "show_pass_network", "show_pressure", "show_progression"]

_KEPT = "_prepared_for_charts"


def show_pass_network(
    match: Match | MatchIndex,
    selection: Selection | str | None = None,
    compare: bool = False,
    min_passes: int = 3,
    by: str = "player",
    names: bool = True,
) -> Scene:
    """Show who passed to whom, from where.

    Parameters
    ----------
    match : Match or MatchIndex
        Needs events.  A match is prepared once and remembered.
    selection : Selection or str, optional
        Part of the match, also as its short text ("team=home;phase=build-up").  Default the home side, the
        whole match.
    compare : bool, default False
        Draw the whole match behind, hollow.
    min_passes : int, default 3
        An arrow stands for at least this many passes.
    by : {"player", "position"}, default "player"
        "position" joins a substitute with the player he replaces.
    names : bool, default True
        Write names below the players.

    Returns
    -------
    Scene
        Shown at once in a notebook cell; `.save("network.svg")` prints it, `.canvas()` makes it interactive.

    Raises
    ------
    UnknownNameError
        The selection names what the match does not know.
    """
    index, chosen = _prepared(match, selection)
    network = pass_network(index, chosen, min_passes=min_passes, by=by)
    whole = pass_network(index, Selection(team=network.team), min_passes=min_passes, by=by) if compare else None
    return network_scene(network, index.match, whole, names=names, empty_because=empty_because(index, chosen))


def show_progression(
    match: Match | MatchIndex,
    selection: Selection | str | None = None,
    compare: bool = False,
    grid: ZoneGrid | None = None,
    long_ball_m: float = 32.0,
) -> Scene:
    """Show where the ball gains ground, by what, and where it enters the final third and the box.

    Parameters
    ----------
    match, selection
        As in `show_pass_network`; default both sides, the whole match.
    compare : bool, default False
        Say in each zone how it differs from the whole match.
    grid : ZoneGrid, optional
        Default the fifteen named zones.
    long_ball_m : float, default 32
        A completed pass of at least this length is a long ball, m.

    Returns
    -------
    Scene

    Raises
    ------
    UnknownNameError
        The selection names what the match does not know.
    """
    index, chosen = _prepared(match, selection)
    found = progression_zones(index, chosen, grid, long_ball_m)
    whole = progression_zones(index, Selection(team=chosen.team), grid, long_ball_m) if compare else None
    return progression_scene(found, index.match, whole, empty_because=empty_because(index, chosen))


def show_pressure(
    match: Match | MatchIndex,
    selection: Selection | str | None = None,
    compare: bool = False,
    grid: ZoneGrid | None = None,
    few_seconds: float = 5.0,
) -> Scene:
    """Show how hard the player on the ball is pressed, zone by zone.

    Parameters
    ----------
    match, selection
        As in `show_pass_network`; default both sides, the whole match.  With events alone the picture shows
        defensive actions and says that it is an estimate.
    compare : bool, default False
        Say in each zone how it differs from the whole match.
    grid : ZoneGrid, optional
        Default 8 x 5 equal zones.
    few_seconds : float, default 5
        Zones with less time on the ball than this are hatched, s.

    Returns
    -------
    Scene

    Raises
    ------
    UnknownNameError
        The selection names what the match does not know.
    """
    index, chosen = _prepared(match, selection)
    grid = grid or index.match.pitch.grid(8, 5)
    found = pressure_map(index, chosen, grid)
    whole = None
    if compare:
        whole = pressure_map(index, whole_match_of(chosen), grid)
    because = empty_because(index, chosen, of_time=index.has_frames)
    return pressure_scene(found, index.match, whole, few_seconds, empty_because=because)


def show_instant(
    match: Match, clock: str, team: str | None = None, names: bool = False, compare: str | None = None
) -> Scene:
    """Show where everybody was at one instant.

    Parameters
    ----------
    match : Match
        Needs tracking.
    clock : str
        The displayed clock, as "63:12", in added time "45+2:13".
    team : str, optional
        Turn the picture so that this side attacks from left to right.
    names : bool, default False
        Write names below the players.
    compare : str, optional
        Clock of an instant to draw behind, hollow.

    Returns
    -------
    Scene

    Raises
    ------
    TacticalKitError
        A clock that is none, or lies outside the match or the tracking.
    MissingDataError
        A match without tracking.
    """
    if not isinstance(match, Match):
        raise TacticalKitError(f"show_instant needs a Match; met {type(match).__name__}.")
    for said in (clock, "0:00" if compare is None else compare):
        if not isinstance(said, str):
            raise TacticalKitError(f"clock {said!r}; expected a text with minutes and seconds, as '63:12'.")
    before = match.snapshot(*match.clock.parse(compare)) if compare else None
    return snapshot_scene(match.snapshot(*match.clock.parse(clock)), match, team, names, ghost=before)


def empty_because(index: MatchIndex, selection: Selection, of_time: bool = False) -> str:
    """Return which condition left nothing, in words; "" if something is left.

    The conditions are added one by one in the order in which they are spoken: the first that leaves no
    action is named, and what would be left without it alone.  `of_time` counts seconds of tracking instead.
    """
    if not of_time and not len(index.actions):
        return "The match has no events."
    if not selection.active:
        return ""
    counts = count_conditions(index, selection)
    left, without, unit = ("seconds_left", "seconds_without", "second") if of_time else ("left", "without", "action")
    emptied = counts[(counts[left] == 0) & (counts["field"] != "")]
    if not len(emptied):
        return ""
    first = emptied.iloc[0]
    amount = f"{first[without]:.0f}"
    units = unit if amount == "1" else f"{unit}s"
    return f"“{first['condition']}” leaves nothing; without it {amount} {units} would be left."


def _prepared(match: Match | MatchIndex, selection: Selection | str | None) -> tuple[MatchIndex, Selection]:
    if isinstance(selection, str):
        selection = Selection.from_text(selection)
    if isinstance(match, MatchIndex):
        return match, selection or Selection()
    if not isinstance(match, Match):
        raise TacticalKitError(f"a chart needs a Match or a MatchIndex; met {type(match).__name__}.")
    # Kept with the match, as its cached properties are: it goes when the match goes.
    kept = vars(match)
    if _KEPT not in kept:
        try:
            phases = find_phases(match)
        except MissingDataError:
            phases = None  # a chart that asks for a phase says that there are none
        kept[_KEPT] = index_match(match, phases)
    return kept[_KEPT], selection or Selection()
