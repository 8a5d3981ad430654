"""What a match story asks of every match: plain sentences, each a condition on what a finder finds."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["FACTS", "NUMBERS", "SINGLES", "TOPICS", "Fact", "Number"]

TOPICS = (
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
        Conditions as in a claim sheet: of the moments that meet `of`, those that meet `where`.
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
        What it is: "the back line of the mid-block, from its own goal".
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
        "Build-up", "build-up", "had at least two men more in the first lines than pressed them", ("spare at least 2",)
    ),
    Fact("Build-up", "build-up", "built up by short passes", ("route is short",)),
    Fact("Build-up", "build-up", "went round the press, from one side to the other", ("route is circulated",)),
    Fact(
        "Build-up",
        "build-up",
        "went long or straight across out of the build-up",
        ('route is long or "direct switch"',),
    ),
    Fact("Build-up", "build-up", "got out of the build-up with the ball", ("outcome is progressed",)),
    Fact("Build-up", "build-up", "lost the ball in the build-up", ("outcome is lost",)),
    Fact("Build-up", "build-up", "used the keeper in the build-up", ("keeper_played",)),
    Fact(
        "Build-up",
        "centre-back carry",
        "drew an opponent out when a centre-back stepped in",
        ('opponent_drawn is not ""',),
    ),
    Fact("Build-up", "centre-back carry", "reached the midfield when a centre-back stepped in", ("into_midfield",)),
    Fact("Getting through", "lines beaten", "beat lines through them, rather than around or over", ("how is through",)),
    Fact("Getting through", "lines beaten", "beat lines around them", ("how is around",)),
    Fact("Getting through", "lines beaten", "beat lines by carrying the ball", ("by is carry",)),
    Fact("Getting through", "lines beaten", "lost the ball right after beating a line", ("next_action is lost",)),
    Fact("Getting through", "between the lines", "turned after receiving between the lines", ("turned",)),
    Fact(
        "Getting through",
        "between the lines",
        "received between the lines facing their own goal",
        ('facing is "own goal"',),
    ),
    Fact(
        "Getting through",
        "between the lines",
        "received between the lines in a half-space",
        ('corridor is "left half-space" or "right half-space"',),
    ),
    Fact("Wide and across", "switch", "brought the switch to a team-mate", ("complete",)),
    Fact(
        "Wide and across",
        "switch",
        "found a man with ten metres or more around him by a switch",
        ("receiver_space_m at least 10",),
        ("complete",),
    ),
    Fact("Wide and across", "switch", "lost the ball right after a switch", ("next_action is lost",), ("complete",)),
    Fact("Wide and across", "switch", "switched to the left", ("to_side is left",)),
    Fact(
        "Wide and across",
        "wide support",
        "gave a full-back on the ball three or more open options",
        ("options_open at least 3",),
    ),
    Fact("Wide and across", "wide support", "kept the ball after it came to a full-back", ("kept",)),
    Fact("Wide and across", "wide support", "had the pivot come to the full-back", ("pivot_comes",)),
    Fact("Pressing and the block", "press", "won the ball by a press", ("outcome is won",)),
    Fact(
        "Pressing and the block",
        "press",
        "jumped on a pass back or to the keeper",
        ('cue is "back pass" or "pass to keeper"',),
    ),
    Fact("Pressing and the block", "press", "jumped on the pass to a full-back", ('cue is "pass to full-back"',)),
    Fact("Pressing and the block", "wide trap", "won the ball when the trap at the side was set", ("won",)),
    Fact(
        "Pressing and the block",
        "wide trap",
        "had more men than the opponents around the ball in a wide trap",
        ("n_for more than n_against",),
    ),
    Fact("Winning the ball", "transition", "went forward at once after winning the ball", ("went_forward",)),
    Fact(
        "Winning the ball",
        "transition",
        "reached the final third within fifteen seconds of winning the ball",
        ("third_s at most 15",),
    ),
    Fact(
        "Winning the ball",
        "transition",
        "had at least as many men ahead of the ball as the opponents",
        ("surplus at least 0",),
        ("surplus is known",),
    ),
    Fact("Winning the ball", "transition", "won the ball in their own third", ('third is "own third"',)),
    Fact("Winning the ball", "transition", "lost the ball again at once", ("first_action is lost",)),
    Fact(
        "Losing the ball", "counter-press", "hunted the ball right after losing it", ("pressed",), ("pressed is known",)
    ),
    Fact(
        "Losing the ball",
        "counter-press",
        "had the ball back within five seconds when they hunted it",
        ("regained",),
        ("pressed",),
    ),
    Fact(
        "Losing the ball",
        "counter-press",
        "let the opponents into the final third or further when the hunt was beaten",
        ('conceded is not ""',),
        ("beaten",),
    ),
    Fact(
        "Losing the ball",
        "rest defence",
        "kept at least two men more behind the ball than the opponents left up",
        ("superiority at least 2",),
    ),
    Fact("Losing the ball", "rest defence", "faced a counter-attack out of their attacks", ("counter_faced",)),
    Fact(
        "Losing the ball",
        "long ball",
        "won the first ball of their long balls",
        ("won_first",),
        ("won_first is known",),
    ),
    Fact(
        "Losing the ball",
        "long ball",
        "won the second ball of their long balls",
        ("won_second",),
        ("won_second is known",),
    ),
    Fact(
        "Near the goals",
        "box occupation",
        "had three or more men in the box when the ball came in",
        ("n_for at least 3",),
    ),
    Fact("Near the goals", "box occupation", "brought the ball in by a cut-back", ("delivery is cut-back",)),
    Fact("Near the goals", "shot", "shot from within 16.5 m of the goal", ("goal_distance_m at most 16.5",)),
    Fact("Near the goals", "shot", "brought the shot on target", ("outcome is goal or saved",)),
    Fact(
        "Near the goals",
        "road to goal",
        "came to the shot within ten seconds of winning the ball",
        ("seconds at most 10",),
    ),
)

NUMBERS: tuple[Number, ...] = (
    Number("Build-up", "build-up", "men in the first lines beyond those who pressed them", "spare"),
    Number(
        "Pressing and the block",
        "block",
        "the back line of the mid-block, from its own goal",
        "height_m",
        ("phase is mid-block",),
    ),
    Number("Pressing and the block", "block", "the depth of the mid-block", "depth_m", ("phase is mid-block",)),
    Number("Pressing and the block", "block", "the width of the mid-block", "width_m", ("phase is mid-block",)),
    Number(
        "Pressing and the block",
        "block",
        "the gap between back line and midfield of the mid-block",
        "gap_back_midfield_m",
        ("phase is mid-block",),
    ),
    Number("Pressing and the block", "press", "how fast the first man closed", "closing_ms"),
    Number("Pressing and the block", "marking", "man-orientation, 0 to 1", "orientation"),
    Number("Wide and across", "switch", "the free space of who received the switch", "receiver_space_m", ("complete",)),
    Number("Winning the ball", "transition", "men ahead of the ball beyond the opponents' when it was won", "surplus"),
    Number("Losing the ball", "counter-press", "time until the first man reacted to a loss", "reaction_s"),
    Number("Losing the ball", "rest defence", "men behind the ball beyond the opponents left up", "superiority"),
    Number("Near the goals", "box occupation", "men in the box when the ball came in", "n_for"),
)

# Numbers of which a single moment far outside the others is worth a look.
SINGLES: tuple[Number, ...] = (
    Number("Build-up", "build-up", "passes in one build-up", "passes"),
    Number("Build-up", "centre-back carry", "ground gained by one carry of a centre-back", "gain_m"),
    Number("Getting through", "lines beaten", "opponents taken out at once", "opponents_beaten"),
    Number("Wide and across", "switch", "time that one switch took", "duration_s", ("complete",)),
    Number("Wide and across", "switch", "free space of who received a switch", "receiver_space_m", ("complete",)),
    Number("Pressing and the block", "press", "speed of the first man in one press", "closing_ms"),
    Number("Pressing and the block", "block", "back line of a block, from its own goal", "height_m"),
    Number("Winning the ball", "transition", "ground gained after winning the ball", "gain_m"),
    Number("Losing the ball", "counter-press", "time until anybody reacted to a loss", "reaction_s"),
    Number("Near the goals", "box occupation", "men in the box when the ball came in", "n_for"),
    Number("Near the goals", "road to goal", "opponents taken out on the way to one shot", "opponents_beaten"),
)
