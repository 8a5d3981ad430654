"""The story is data: another one plays without touching code, a broken one is refused with all its faults."""

import copy
import subprocess
import sys

import numpy as np
import pytest

from tactical_kit.demo import ScriptError, load_script, simulate
from tactical_kit.errors import TacticalKitError


@pytest.fixture
def story():
    return copy.deepcopy(load_script().source)


def test_the_plan_changes_shape_or_press_of_each_side_at_a_known_minute():
    script = load_script()
    for team in (script.home, script.away):
        later = [entry for entry in team.plan if entry["minute"] > 0]
        assert any("build" in e or "block" in e or "man_oriented" in e for e in later)


def test_a_story_told_to_sit_deep_sits_deeper(story):
    made = simulate(story, seed=3)
    for entry in story["home"]["plan"]:
        entry.update(press_high_share=0.0, low_spell=1)
    deep = simulate(story, seed=3)

    def share(match, phase):
        there = (match.truth.owner == 1) & match.match.tracking.alive
        return float(np.mean(match.truth.out_phase[there] == phase))

    assert share(deep, "low block") > share(made, "low block") + 0.15
    assert share(deep, "high press") < share(made, "high press")


def test_names_and_half_length_come_from_the_story(story):
    story["home"]["name"] = "Somewhere Else"
    story["time"] = {"half_min": 5, "added_first_s": [0, 10], "added_second_s": [0, 10]}
    story["home"]["substitutions"] = story["away"]["substitutions"] = []
    made = simulate(story, seed=1)
    assert made.match.home.name == "Somewhere Else"
    assert 295 < made.match.periods[0].duration_s < 360


def test_all_faults_are_listed_at_once(story):
    story["home"]["plan"][0]["tempoo"] = 1.0
    story["home"]["plan"][0]["mid_line_m"] = 90
    story["away"]["plan"][0]["block"] = "4-4-3 block"
    story["away"]["substitutions"][0]["off"] = "ost99"
    story["home"]["players"][3]["pace"] = "quick"
    with pytest.raises(ScriptError) as caught:
        load_script(story)
    assert str(caught.value) == (
        "story has 5 faults:\n"
        "- home: player 'brl05': pace is 'quick'; expected a number from 0 to 1\n"
        "- home: plan of minute 0: mid_line_m is 90; expected 25 to 48\n"
        "- home: plan of minute 0: unknown key 'tempoo'. Did you mean 'tempo'?\n"
        "- away: plan of minute 0: block is '4-4-3 block', which is no shape of [shapes]."
        " Did you mean '4-4-2 block'?\n"
        "- away: substitution of minute 55: 'ost99' goes off but is not on the pitch then. Did you mean 'ost09'?"
    )


def test_a_file_that_is_no_toml_names_the_place(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("title = \n")
    with pytest.raises(
        ScriptError,
        match=r"^mine\.toml is not readable as TOML: Invalid value \(at line 1, column 9\)\. "
        r"Mend that line and load it again\.$",
    ):
        load_script(path)


@pytest.mark.parametrize("rate", [0, 10, 50])
def test_a_rate_that_does_not_divide_is_refused(rate):
    with pytest.raises(TacticalKitError) as caught:
        simulate(rate_hz=rate)
    assert str(caught.value) == f"rate_hz is {rate}; expected 25, 5 or 1, which divide the engine's 25."


def test_progress_runs_from_start_to_one():
    seen = []
    simulate(seed=2, progress=lambda share, doing: seen.append(share))
    assert seen == sorted(seen) and seen[-1] == 1.0 and len(seen) > 20


def test_the_football_of_a_story_is_checked_like_the_rest(story):
    story["football"] = {"tackle_rat": 1.0, "runs": "many", "look_up": -1, "combine": 2}
    with pytest.raises(ScriptError) as caught:
        load_script(story)
    assert str(caught.value) == (
        "story has 3 faults:\n"
        "- [football]: unknown key 'tackle_rat'. Did you mean 'tackle_rate'?\n"
        "- [football]: runs is 'many'; expected a number from 0 to 20\n"
        "- [football]: look_up is -1; expected 0 to 20"
    )


def test_a_story_may_set_its_own_football(story):
    story["football"] = {"combine": 2}
    assert load_script(story).football == {"combine": 2.0}


def test_progress_tells_what_is_being_done():
    told = []
    simulate(seed=1, rate_hz=1, progress=lambda share, doing: told.append((share, doing)))
    assert told[0][0] == 0.0 and told[-1] == (1.0, "simulating two halves")
    assert {doing for _, doing in told[1:]} == {"simulating two halves"}
    assert told[0][1] in (
        "simulating two halves",
        "preparing the simulator, once after an installation: about a minute",
    )


def test_another_process_finds_the_simulator_prepared(made, tmp_path):
    code = (
        "from tactical_kit.demo import simulate; told = [];"
        "simulate(seed=1, rate_hz=1, progress=lambda share, doing: told.append(doing)); print(told[0])"
    )
    # Not from the checkout: there `import` would find another copy than the one that is installed.
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path).stdout
    assert told == "simulating two halves\n"
