"""Long balls against the script: the same passer at the same time; then the first and the second ball."""

from scoring import Subject, patterns

from tactical_kit.finders import find_long_balls


def _found(column):
    def rows(match):
        table = find_long_balls(match).table
        sides = [t.team_id for t in match.teams]
        other = {sides[0]: sides[1], sides[1]: sides[0]}
        who = ["" if w is None else t if w else other[t] for w, t in zip(_plain(table[column]), table["team"])]
        return table.assign(players=[(p[0], w or "nobody") for p, w in zip(table["players"], who)])

    return rows


def _plain(values):
    return [None if v != v or v is None else bool(v) for v in values.astype(object).where(values.notna(), None)]


def _true(column):
    def rows(truth):
        table = patterns("long ball")(truth)
        return table.assign(players=[(p[0], w or "nobody") for p, w in zip(table["players"], table[column])])

    return rows


SUBJECTS = [
    Subject(
        "long ball", find_long_balls, patterns("long ball"), 0.4, 1,
        note="meant length and gain; a ball that falls short of them is missed",
    ),
    Subject("long ball: first ball", _found("won_first"), _true("first_ball"), 0.4, 2, note="and the side is right"),
    Subject("long ball: second ball", _found("won_second"), _true("second_ball"), 0.4, 2, note="and the side is right"),
]  # fmt: skip
