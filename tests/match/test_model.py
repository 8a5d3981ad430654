"""The match: squads, ends, who was on when, and what is refused."""

import re

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError
from tactical_kit.match import EVENT_COLUMNS, Match, Period, Player, Team, Tracking, empty_events, events_table


def squad(team_id, size=13):
    players = tuple(
        Player(f"{team_id}{i}", f"{team_id.upper()} Player {i}", team_id, i, "GK" if i == 1 else "CM", i <= 11)
        for i in range(1, size + 1)
    )
    return Team(team_id, f"Team {team_id.upper()}", players=players)


# Ends change at half-time as usual, and in extra time they do not follow the pattern of the halves.
PERIODS = (Period(1, 2760, 1), Period(2, 2820, -1), Period(3, 900, -1), Period(4, 900, 1))


def match(events=None, **more):
    return Match("m", squad("h"), squad("a"), PERIODS, events=None if events is None else events_table(events), **more)


def event(period, time_s, kind="pass", team="h", player="h5", **more):
    return dict(period=period, time_s=time_s, kind=kind, team=team, player=player, **more)


def test_teams_and_players_are_found_by_any_of_their_names():
    m = match()
    assert m.team("h") is m.team("Team H") is m.team("home") is m.home
    assert m.opponent("home") is m.away and m.team_index("a") == 1
    assert m.player("h5") is m.player("H Player 5")
    assert m.player("h5").label == "5"
    with pytest.raises(
        UnknownNameError,
        match=r"^team 'Teem H' does not play in this match; expected 'Team H' or 'Team A' \(ids 'h', 'a'\)\. "
        r"Did you mean 'Team H'\?$",
    ):
        m.team("Teem H")
    with pytest.raises(UnknownNameError, match=r"Did you mean 'Team A'\?$"):  # a word that one side alone bears
        m.team("a".upper())
    with pytest.raises(UnknownNameError, match=r"^player 'zz' is in neither squad\.$"):
        m.player("zz")


def test_ends_change_in_any_period():
    m = match([event(p, 10, x=20.0, y=5.0, end_x=30.0, end_y=-5.0) for p in (1, 2, 3, 4)])
    assert [m.attack_sign("h", p) for p in (1, 2, 3, 4)] == [1, -1, -1, 1]
    assert [m.attack_sign("a", p) for p in (1, 2, 3, 4)] == [-1, 1, 1, -1]
    assert m.attacking_events["x"].tolist() == [20, -20, -20, 20]
    assert m.attacking_events["end_y"].tolist() == [-5, 5, 5, -5]
    assert m.attack_signs(["h", "a", ""], [2, 2, 2]).tolist() == [-1, 1, 0]
    # The stored events stay in the pitch frame.
    assert m.events["x"].tolist() == [20] * 4


def test_stints_know_substitutions_and_a_sending_off():
    m = match(
        [
            event(2, 600, "substitution", player="h9", receiver="h12"),
            event(2, 600, "substitution", player="h10", receiver="h13"),
            event(2, 1200, "substitution", player="h12", receiver="h9"),  # some competitions let a player return
            event(1, 1800, "card", team="a", player="a4", detail="red"),
            event(1, 900, "card", team="a", player="a5", detail="yellow"),
        ]
    )
    table = m.stints.set_index(["player", "period"])
    assert table.loc[("h9", 1), ["start_s", "end_s"]].tolist() == [0, 2760]
    assert m.stints.query("player == 'h9' and period == 2")[["start_s", "end_s"]].to_numpy().tolist() == [
        [0, 600], [1200, 2820],
    ]  # fmt: skip
    assert table.loc[("h12", 2), ["start_s", "end_s"]].tolist() == [600, 1200]
    assert ("h12", 1) not in table.index and ("h12", 3) not in table.index
    assert table.loc[("a4", 1), "end_s"] == 1800 and ("a4", 2) not in table.index
    assert table.loc[("a5", 4), "end_s"] == 900
    # Law 3: never more than eleven of a side at once; at second 1000 of the second half, 11 and 10.
    on = m.stints.query("period == 2 and start_s <= 1000 < end_s").groupby("team").size()
    assert on.to_dict() == {"h": 11, "a": 10}


def test_stints_from_tracking_bridge_a_player_lost_for_a_while():
    xy = np.zeros((100, 2, 2), np.float32)
    xy[30:60, 0] = np.nan  # lost for a while, not substituted
    xy[:50, 1] = np.nan  # comes on
    data = Tracking(10.0, np.ones(100, np.int8), np.arange(100) / 10, ("h1", "h12"), np.zeros(2, np.int8), xy,
                    np.zeros((100, 3), np.float32), np.ones(100, bool))  # fmt: skip
    stints = match(tracking=data).stints
    assert stints[["player", "start_s", "end_s"]].to_numpy().tolist() == [["h1", 0.0, 10.0], ["h12", 5.0, 10.0]]


def test_stints_with_no_data_are_the_starters():
    assert match().stints.groupby(["team", "period"]).size().unique().tolist() == [11]


def test_snapshot_holds_those_who_are_there_and_turns():
    xy = np.full((20, 4, 2), np.nan, np.float32)
    xy[:, 0] = [10, 5]
    xy[:, 2] = [-20, 8]
    data = Tracking(10.0, np.full(20, 2, np.int8), np.arange(20) / 10, ("h1", "h2", "a1", "a2"),
                    np.array([0, 0, 1, 1], np.int8), xy, np.tile(np.float32([1, 2, 0.5]), (20, 1)), np.ones(20, bool))  # fmt: skip
    snap = match(tracking=data).snapshot(2, 0.52)
    assert snap.players == ("h1", "a1") and snap.time_s == 0.5 and snap.attack_signs == (-1, 1)
    turned = snap.attacking(0)
    assert turned.xy.tolist() == [[-10, -5], [20, -8]] and turned.ball.tolist() == [-1, -2, 0.5]
    assert turned.attack_signs == (1, -1)
    assert turned.attacking(0).xy.tolist() == turned.xy.tolist()
    assert snap.side(1).tolist() == [False, True]


def test_what_the_data_cannot_support_is_refused_in_words():
    m = match()
    assert m.level == "nothing yet"
    with pytest.raises(MissingDataError, match=r"^The pass network needs events; this match has nothing yet\.$"):
        m.need_events("The pass network")
    with pytest.raises(
        MissingDataError,
        match=r"^A snapshot of an instant needs tracking; this match has events\. A digitised still gives one, too\.$",
    ):
        match([event(1, 0)]).snapshot(1, 0)


def test_contradictions_are_told_together():
    with pytest.raises(
        TacticalKitError,
        match=r"^Match 'm' does not fit together: events fall in a period that the match does not list; "
        r"events name unknown teams: x; events name players of neither squad: nobody\.$",
    ):
        match([event(5, 1, team="x", player="nobody")])
    with pytest.raises(TacticalKitError, match=r"both sides have the id 'h'; player id twice in the squads: h1, h10"):
        Match("m", squad("h"), squad("h"), PERIODS)


def test_invented_data_say_so():
    assert match(invented=True).label == "invented demonstration data"
    assert "invented demonstration data" in repr(match(invented=True))


def test_events_table_fills_sorts_and_types():
    table = events_table(
        [event(2, 5.0), event(1, 9.0, success=True, extra=1), event(1, 9.0, kind="carry", player=None)]
    )
    assert list(table.columns) == [*EVENT_COLUMNS, "extra"]
    assert table["kind"].tolist() == ["pass", "carry", "pass"]  # equal times keep their order
    assert table["event_id"].tolist() == ["e0001", "e0002", "e0003"]
    assert table["player"].tolist() == ["h5", "", "h5"]
    assert table["success"].isna().tolist() == [False, True, True]
    assert table.dtypes[list(EVENT_COLUMNS)].astype(str).to_dict() == EVENT_COLUMNS
    assert empty_events().dtypes.astype(str).to_dict() == EVENT_COLUMNS
    pd.testing.assert_frame_equal(events_table([]), empty_events())
    with pytest.raises(TacticalKitError, match=r"^events column 'period' does not fit type int8: not a whole number"):
        events_table([event(1.5, 0)])
    with pytest.raises(TacticalKitError, match=r"^events column 'time_s' does not fit type float64: "):
        events_table([event(1, "noon")])


def test_an_id_means_its_own_side_whatever_the_other_is_called():
    home, away = Team("H", "A", "Rovers"), Team("A", "Mill", "Rovers")
    match = Match("m", home, away, (Period(1, 2700.0, 1),))
    assert [match.team(t).team_id for t in ("A", "H", "Mill", "home", "away")] == ["A", "H", "A", "H", "A"]
    assert (match.team_index("A"), match.attack_sign("A", 1), match.opponent("A").team_id) == (1, -1, "H")
    said = "team 'Rovers' is the name of both sides; expected 'A' or 'Mill' (ids 'H', 'A')."
    with pytest.raises(UnknownNameError, match="^" + re.escape(said)):
        match.team("Rovers")


def test_an_own_goal_is_a_goal_also_where_no_outcome_is_told():
    """Files that have one word for it tell no outcome beside; a goal that is not counted turns the score false."""
    told = {"period": 1, "kind": "shot", "team": "H"}
    table = events_table([
        told | {"time_s": 1.0, "detail": "own-goal"},
        told | {"time_s": 2.0, "detail": "own-goal", "outcome": "goal", "success": True},
        told | {"time_s": 3.0, "detail": "header"},
    ])  # fmt: skip
    assert table["outcome"].tolist() == ["goal", "goal", ""]
    assert table["success"].tolist() == [True, True, pd.NA]
