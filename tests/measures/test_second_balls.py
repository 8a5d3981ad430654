"""Who touches a pass first and who then has the ball, by rows of events written by hand (common practice, no source)."""

import numpy as np
import pytest
from drawing import Drawing

from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.second_balls import CONTACT_COLUMNS, contacts_after


def row(kind, team_player, time_s, **more):
    return dict(kind=kind, period=1, time_s=time_s, team=team_player[:1], player=team_player, x=0, y=0) | more


def first_and_second(make_match, pass_row, *rows, success=True, **asked):
    """H3 plays long at 10 s, ending at 12 s; what follows is given."""
    long_ball = pass_row(10.0, "H3", "H10" if success else "", (-30, 0), (10, 0), success=success) | {"end_s": 12.0}
    match = make_match([long_ball, *rows])
    passes = pass_table(match)
    got = contacts_after(match, passes[passes["time_s"] == 10.0], **asked)
    assert got.dtypes.astype(str).to_dict() == CONTACT_COLUMNS
    return tuple(got.iloc[0])[:4], got["second_s"].iloc[0]


@pytest.mark.parametrize(
    ("success", "rows", "who", "when"),
    [
        (True, [row("carry", "H10", 12.0, end_s=14)], ("H", "H10", "H", "H10"), 12.0),
        (True, [row("duel", "H10", 12.0), row("recovery", "A4", 13.5)], ("H", "H10", "A", "A4"), 13.5),
        (False, [row("duel", "A4", 12.0), row("recovery", "H8", 13)], ("A", "A4", "H", "H8"), 13.0),
        (False, [row("interception", "A4", 12.0)], ("A", "A4", "A", "A4"), 12.0),
        (False, [row("clearance", "A4", 12.0), row("out", "A4", 13.0)], ("A", "A4", "", ""), np.nan),
        (False, [row("out", "H3", 12.0), row("pass", "A1", 20, set_play="goal-kick")], ("", "", "", ""), np.nan),
        (True, [row("foul", "A4", 12.5), row("pass", "H8", 30, set_play="free-kick")], ("H", "H10", "", ""), np.nan),
        # A header that finds nobody is no control, one that finds a team-mate gives him the ball.
        (False, [row("pass", "A4", 12, detail="header", success=False), row("carry", "H8", 13)],
         ("A", "A4", "H", "H8"), 13.0),
        (False, [row("pass", "A4", 12, end_s=13.2, detail="header", success=True, receiver="A6")],
         ("A", "A4", "A", "A6"), 13.2),
        (False, [row("pass", "A4", 12, body_part="head", success=False), row("tackle", "H8", 13, outcome="won"),
                 row("recovery", "H9", 13.4)], ("A", "A4", "H", "H9"), 13.4),
    ],
)  # fmt: skip
def test_first_and_second_ball(make_match, pass_row, success, rows, who, when):
    names, at = first_and_second(make_match, pass_row, *rows, success=success)
    assert names == who
    np.testing.assert_equal(at, when)


@pytest.mark.parametrize(("time_s", "second"), [(22.0, "A"), (22.1, "")])
def test_at_most_ten_seconds_after_the_first_contact(make_match, pass_row, time_s, second):
    names, _ = first_and_second(make_match, pass_row, row("duel", "H10", 12.0), row("recovery", "A4", time_s))
    assert names[2] == second


def test_the_next_period_is_another_matter(make_match, pass_row):
    names, _ = first_and_second(make_match, pass_row, row("recovery", "A4", 1.0) | {"period": 2})
    assert names == ("H", "H10", "", "")


def test_from_tracking_alone():
    """a5 hits a11 (a touch at 4.4 s that is gone at once), b6 has the ball from about 5.7 s until 12 s."""
    drawn = (
        Drawing(12.0).stands(a5=(-22, 26), a11=(16, 10), b6=(8, 4), b4=(19, 7)).hold("a5", 0, 2).ball(3.2, -3, 18, 9)
    )
    match = drawn.hold("a11", 4.4, 4.48).ball(5.4, 9, 5).hold("b6", 6.5, 12).match(events=False)
    passes = pass_table(match)
    got = contacts_after(match, passes[:1]).iloc[0]
    assert (got.first_player, got.second_team, got.second_player) == ("a11", "b", "b6")
    assert 5.4 <= got.second_s <= 6.0
    assert contacts_after(match, passes[:1], control_s=0.2).iloc[0].second_player == "a11"
    assert contacts_after(match, passes[:1], control_s=8.0).iloc[0].second_player == ""  # he has it for under 7 s
    assert contacts_after(match, passes[:1], within_s=0.9).iloc[0].second_player == ""
    dead = drawn.dead_ball(5.0, 5.2).match(events=False)
    assert contacts_after(dead, pass_table(dead)[:1]).iloc[0].second_player == ""  # play was stopped before
