"""What a match story asks of every match: plain sentences, each a condition on what a finder finds."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["FACTS", "NUMBERS", "SINGLES", "TOPICS", "Fact", "Number"]

TOPICS = (
    "Shape",
    "Build-up",
    "Getting through",
    "Wide and across",
    "Pressing and the block",
    "Winning the ball",
    "Losing the ball",
    "Near the goals",
)


@dataclass(frozen=True)
class Fact:
    """A sentence that may be true of a share of a side's moments.

    Parameters
    ----------
    topic : str
        One of `TOPICS`.
    finder : str
        What is counted.
    says : str
        What the side did, as it follows "the side usually ...": past tense, no number.
    where, of : tuple of str
        Conditions as in a claim sheet: of the moments that meet `of`, those that meet `where`.  What is unknown is no
        witness against the sentence, so `of` leaves it out.
    """

    topic: str
    finder: str
    says: str
    where: tuple[str, ...]
    of: tuple[str, ...] = ()


@dataclass(frozen=True)
class Number:
    """A number of a side's moments whose mean may have changed.

    Parameters
    ----------
    topic, finder : str
        As in `Fact`.
    says : str
        What it is: "back line of the mid-block, from its own goal".
    column : str
        The finder's number.
    of : tuple of str
        Which moments.
    """

    topic: str
    finder: str
    says: str
    column: str
    of: tuple[str, ...] = ()


FACTS: tuple[Fact, ...] = (
    Fact(
        "Build-up", "build-up", "had two or more men to spare in the first lines of the build-up",
        ("spare at least 2",), ("spare is known",),
    ),
    Fact("Build-up", "build-up", "built up by short passes", ("route is short",)),
    Fact("Build-up", "build-up", "circulated the ball from side to side in the build-up", ("route is circulated",)),
    Fact(
        "Build-up", "build-up", "went long or by a direct switch out of the build-up",
        ('route is long or "direct switch"',),
    ),
    Fact("Build-up", "build-up", "got out of the build-up with the ball", ("outcome is progressed",)),
    Fact("Build-up", "build-up", "lost the ball in the build-up", ("outcome is lost",)),
    Fact("Build-up", "build-up", "used the keeper in the build-up", ("keeper_played",)),
    Fact(
        "Build-up", "centre-back carry", "drew an opponent out when a centre-back stepped in",
        ("opponent_drawn is known",),
    ),
    Fact(
        "Build-up", "centre-back carry", "got beyond the opponents' first line when a centre-back stepped in",
        ("into_midfield",), ("into_midfield is known",),
    ),
    Fact(
        "Getting through", "lines beaten", "went through the line, not around or over it, when they beat one",
        ("how is through",), ("how is known",),
    ),
    Fact(
        "Getting through", "lines beaten", "went around the line, not through or over it, when they beat one",
        ("how is around",), ("how is known",),
    ),
    Fact(
        "Getting through", "lines beaten", "carried the ball, rather than passed it, when they beat a line",
        ("by is carry",), ("line is known",),
    ),
    Fact(
        "Getting through", "lines beaten", "lost the ball right after beating a line",
        ("next_action is lost",), ("line is known", "next_action is known"),
    ),
    Fact(
        "Getting through", "between the lines", "turned when they received between the lines not facing the goal",
        ("turned",), ("passer is known", "facing is not goal", "turned is known"),
    ),
    Fact(
        "Getting through", "between the lines", "faced their own goal when they received between the lines",
        ('facing is "own goal"',), ("passer is known",),
    ),
    Fact(
        "Getting through", "between the lines", "stood in a half-space when they received between the lines",
        ('corridor is "left half-space" or "right half-space"',), ("passer is known",),
    ),
    Fact(
        "Getting through", "third man", "took out at least one opponent with a third man",
        ("opponents_beaten at least 1",), ("opponents_beaten is known",),
    ),
    Fact(
        "Getting through", "one-two", "took out at least one opponent with a one-two",
        ("opponents_beaten at least 1",), ("opponents_beaten is known",),
    ),
    Fact(
        "Getting through", "long ball", "won the first ball of their own long balls",
        ("won_first",), ("won_first is known",),
    ),
    Fact(
        "Getting through", "long ball", "won the second ball of their own long balls",
        ("won_second",), ("won_second is known",),
    ),
    Fact("Wide and across", "switch", "brought the switch to a team-mate", ("complete",)),
    Fact(
        "Wide and across", "switch", "found a receiver with no opponent within ten metres when a switch arrived",
        ("receiver_space_m at least 10",), ("complete", "receiver_space_m is known"),
    ),
    Fact(
        "Wide and across", "switch", "lost the ball right after a switch had arrived",
        ("next_action is lost",), ("complete", "next_action is known"),
    ),
    Fact("Wide and across", "switch", "switched to the left", ("to_side is left",)),
    Fact(
        "Wide and across", "wide support", "gave a full-back on the ball three or more open options",
        ("options_open at least 3",),
    ),
    Fact(
        "Wide and across", "wide support", "kept the ball after it came to a full-back",
        ("kept",), ("kept is known",),
    ),
    Fact(
        "Wide and across", "wide support", "had the pivot come to a full-back on the ball",
        ("pivot_comes",), ("pivot_comes is known",),
    ),
    Fact("Pressing and the block", "press", "won the ball by a press", ("outcome is won",)),
    Fact(
        "Pressing and the block", "press", "sprang the press on a pass back or to the keeper",
        ('cue is "back pass" or "pass to keeper"',),
    ),
    Fact(
        "Pressing and the block", "press", "sprang the press on a pass to a full-back",
        ('cue is "pass to full-back"',),
    ),
    Fact("Pressing and the block", "wide trap", "won the ball by a trap at the side", ("won",)),
    Fact(
        "Pressing and the block", "wide trap", "had more men than the opponents around the ball in a trap at the side",
        ("n_for more than n_against",),
    ),
    Fact(
        "Winning the ball", "transition", "went forward at once after winning the ball",
        ("went_forward",), ("went_forward is known",),
    ),
    Fact(
        "Winning the ball", "transition",
        "reached the final third within fifteen seconds of winning the ball outside it",
        ("third_s at most 15",), ('third is not "final third"',),
    ),
    Fact(
        "Winning the ball", "transition",
        "had at least as many men level with or ahead of the ball as opponents goal-side of it when they won it",
        ("surplus at least 0",), ("surplus is known",),
    ),
    Fact("Winning the ball", "transition", "won the ball in their own third", ('third is "own third"',)),
    Fact(
        "Winning the ball", "transition", "lost the ball again with the first action after winning it",
        ("first_action is lost",), ("first_action is known",),
    ),
    Fact(
        "Losing the ball", "counter-press", "counter-pressed after losing the ball",
        ("pressed",), ("pressed is known",),
    ),
    Fact(
        "Losing the ball", "counter-press", "won the ball back within five seconds when they counter-pressed",
        ("regained",), ("pressed", "regained is known"),
    ),
    Fact(
        "Losing the ball", "counter-press",
        "let the opponents into the final third or further when their counter-press was beaten",
        ("conceded is known",), ("beaten",),
    ),
    Fact(
        "Losing the ball", "rest defence",
        "had two or more men to spare behind the ball when they attacked the final third",
        ("superiority at least 2",), ("superiority is known",),
    ),
    Fact(
        "Losing the ball", "rest defence", "ran into a counter-attack when they attacked the final third",
        ("counter_faced",), ("counter_faced is known",),
    ),
    Fact(
        "Near the goals", "box occupation", "had three or more men in the box when a ball came in from open play",
        ("n_for at least 3",), ("set_play is unknown", "n_for is known"),
    ),
    Fact(
        "Near the goals", "box occupation", "chose the cut-back over the cross to bring a ball in from open play",
        ("delivery is cut-back",), ("set_play is unknown",),
    ),
    Fact(
        "Near the goals", "shot", "shot from within 16.5 m of the middle of the goal",
        ("goal_distance_m at most 16.5",), ("goal_distance_m is known", 'detail is not "own-goal"'),
    ),
    Fact(
        "Near the goals", "shot", "got their shots on target", ("outcome is goal or saved",),
        ("outcome is known", 'detail is not "own-goal"'),
    ),
    Fact(
        "Near the goals", "road to goal", "came to the shot within ten seconds of winning the ball or of the restart",
        ("seconds at most 10",), ('outcome is not "own goal"',),
    ),
)  # fmt: skip

NUMBERS: tuple[Number, ...] = (
    Number("Build-up", "build-up", "men to spare in the first lines of the build-up", "spare"),
    Number(
        "Pressing and the block", "block", "back line of the mid-block, from its own goal", "height_m",
        ("phase is mid-block",),
    ),
    Number("Pressing and the block", "block", "depth of the mid-block", "depth_m", ("phase is mid-block",)),
    Number("Pressing and the block", "block", "width of the mid-block", "width_m", ("phase is mid-block",)),
    Number(
        "Pressing and the block", "block", "gap between back line and midfield of the mid-block", "gap_back_midfield_m",
        ("phase is mid-block",),
    ),
    Number("Pressing and the block", "press", "speed of the fastest man in a press", "closing_ms"),
    Number(
        "Pressing and the block", "marking", "man-orientation of the marking (0 zonal, 1 man for man)", "orientation",
    ),
    Number(
        "Wide and across", "switch", "distance from the receiver of a switch to the nearest opponent",
        "receiver_space_m", ("complete",),
    ),
    Number(
        "Winning the ball", "transition",
        "men level with or ahead of the ball less opponents goal-side of it when they won it", "surplus",
    ),
    Number("Losing the ball", "counter-press", "time until the first man ran at the ball after a loss", "reaction_s"),
    Number(
        "Losing the ball", "rest defence", "men to spare behind the ball when they attacked the final third",
        "superiority",
    ),
    Number(
        "Near the goals", "box occupation", "men in the box when a ball came in from open play", "n_for",
        ("set_play is unknown",),
    ),
)  # fmt: skip

# Numbers of which a single moment far outside the others is worth a look.
SINGLES: tuple[Number, ...] = (
    Number("Build-up", "build-up", "passes in one build-up", "passes"),
    Number("Build-up", "centre-back carry", "ground gained by one carry of a centre-back", "gain_m"),
    Number("Getting through", "lines beaten", "opponents taken out by one pass or carry", "opponents_beaten"),
    Number("Wide and across", "switch", "time that one switch took", "duration_s", ("complete",)),
    Number(
        "Wide and across", "switch", "distance from the receiver of one switch to the nearest opponent",
        "receiver_space_m", ("complete",),
    ),
    Number("Pressing and the block", "press", "speed of the fastest man in one press", "closing_ms"),
    Number("Pressing and the block", "block", "back line of one block, from its own goal", "height_m"),
    Number("Winning the ball", "transition", "ground gained after winning the ball once", "gain_m"),
    Number("Losing the ball", "counter-press", "time until anybody ran at the ball after one loss", "reaction_s"),
    Number("Near the goals", "box occupation", "men in the box when one ball came in", "n_for"),
    Number("Near the goals", "road to goal", "opponents taken out on the way to one shot", "opponents_beaten"),
)  # fmt: skip
