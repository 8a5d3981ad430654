"""One table of words: the kit's kinds, details, set plays and outcomes against those of the Common Data Format.

| kit | CDF type / sub_type | CDF outcome_type |
|---|---|---|
| pass | pass / set play, else detail, else null | successful, intercepted, out_of_play, offside, blocked |
| shot | shot / set play, else "header", else null | successful, saved, blocked, wide, woodwork, own_goal |
| carry, take-on, tackle | misc / carry, take_on, tackle | successful, unsuccessful |
| duel (aerial) | misc / aerial_duel | successful, unsuccessful |
| touch | misc / other_ball_action | unsuccessful |
| interception, recovery, clearance, block | defending / the same word | the same word |
| save, claim | goalkeeping / the same word | the same word |
| foul, offside, out | misc / foul, offside, out_of_play, and a referee event "...:whistle" | the same word |
| foul, offside, out without a player | referee / foul, offside, out_of_play | the same word |
| card | referee / caution; the player stands in match.json | yellow_card, second_yellow_card, red_card |
| substitution | referee / substitution; the players stand in match.json | substitution |
| period-start, period-end | referee / null ("final_whistle" at the end of the match) | start, end |

Source: the descriptions in the schemas of CDF 0.3.2 (arXiv 2505.15820), which give examples, not closed lists.
Words that stand in no example there (carry, take_on, aerial_duel, recovery, out_of_play as a sub_type, cross,
long_ball, through_ball, cut_back, header) are the plain trade words in its spelling.
"""

from __future__ import annotations

__all__ = [
    "BODY_FROM",
    "BODY_TO",
    "CARD_FROM",
    "CARD_TO",
    "DETAIL_FROM",
    "DETAIL_TO",
    "GROUPS",
    "KIND_FROM",
    "KIND_TO",
    "OUTCOME_FROM",
    "OUTCOME_TO",
    "PERIOD_FROM",
    "PERIOD_TO",
    "POSITION_FROM",
    "POSITION_TO",
    "REFEREE_KINDS",
    "SET_PLAY_FROM",
    "SET_PLAY_TO",
    "WHISTLE",
    "kind_of",
]

PERIOD_TO = {
    1: "first_half",
    2: "second_half",
    3: "first_half_extratime",
    4: "second_half_extratime",
    5: "shootout",
}
PERIOD_FROM = {word: number for number, word in PERIOD_TO.items()}

WHISTLE = ":whistle"  # ending of the id of a referee event that only repeats a player's event

# kind -> (type, sub_type) of an event by a player
KIND_TO = {
    "pass": ("pass", None),
    "shot": ("shot", None),
    "carry": ("misc", "carry"),
    "take-on": ("misc", "take_on"),
    "tackle": ("misc", "tackle"),
    "duel": ("misc", "aerial_duel"),
    "touch": ("misc", "other_ball_action"),
    "interception": ("defending", "interception"),
    "recovery": ("defending", "recovery"),
    "clearance": ("defending", "clearance"),
    "block": ("defending", "block"),
    "save": ("goalkeeping", "save"),
    "claim": ("goalkeeping", "claim"),
    "foul": ("misc", "foul"),
    "offside": ("misc", "offside"),
    "out": ("misc", "out_of_play"),
}
REFEREE_KINDS = {"card": "caution", "substitution": "substitution", "period-start": None, "period-end": None}

# Words met in files, sub_type first, then type -> kind.  None: the kit has no such kind, the event is left out.
KIND_FROM: dict[str, str | None] = {
    **{sub: kind for kind, (_, sub) in KIND_TO.items() if sub},
    "dribble": "take-on",
    "ground_duel": "tackle",
    "aerial": "duel",
    "duel": "duel",
    "save_attempt": "save",
    "caution": "card",
    "yellow_card": "card",
    "second_yellow_card": "card",
    "red_card": "card",
    "substitution": "substitution",
    "final_whistle": "period-end",
    "player_on": None,
    "player_off": None,
    "pressing": None,
    "pressure": None,
    "injury": None,
    "chance_without_shot": None,
}

SET_PLAY_TO = {
    "kick-off": "kick_off",
    "goal-kick": "goal_kick",
    "throw-in": "throw_in",
    "corner": "corner_kick",
    "free-kick": "free_kick",
    "penalty": "penalty_kick",
    "drop-ball": "drop_ball",
}
SET_PLAY_FROM = {word: name for name, word in SET_PLAY_TO.items()}

DETAIL_TO = {
    "cross": "cross",
    "long": "long_ball",
    "through": "through_ball",
    "cut-back": "cut_back",
    "header": "header",
}
DETAIL_FROM = {word: name for name, word in DETAIL_TO.items()}

CARD_TO = {"yellow": "yellow_card", "second-yellow": "second_yellow_card", "red": "red_card"}
CARD_FROM = {word: name for name, word in CARD_TO.items()}

# (kind, outcome) -> outcome_type, and back
OUTCOME_TO = {
    ("pass", "complete"): "successful",
    ("pass", "intercepted"): "intercepted",
    ("pass", "out"): "out_of_play",
    ("pass", "offside"): "offside",
    ("pass", "blocked"): "blocked",
    ("shot", "goal"): "successful",
    ("shot", "saved"): "saved",
    ("shot", "blocked"): "blocked",
    ("shot", "off-target"): "wide",
    ("shot", "woodwork"): "woodwork",
    **{(kind, "won"): "successful" for kind in ("take-on", "tackle", "duel")},
    **{(kind, "lost"): "unsuccessful" for kind in ("take-on", "tackle", "duel")},
}
OUTCOME_FROM = {(kind, word): name for (kind, name), word in OUTCOME_TO.items()}
OUTCOME_FROM |= {(kind, "lost"): "lost" for kind in ("take-on", "tackle", "duel")}
OUTCOME_FROM |= {(kind, "won"): "won" for kind in ("take-on", "tackle", "duel")}

# "body" is the least particular word of the standard: it stands for an unknown part where one is demanded.
BODY_TO = {"right_foot": "right_foot", "left_foot": "left_foot", "head": "head", "hands": "hands", "other": "other"}
BODY_FROM = {**BODY_TO, "upper_body": "other", "lower_body": "other", "feet": "", "body": ""}

POSITION_TO = {
    "DM": "CDM",
    "AM": "CAM",
    "ST": "CF",
    "RWB": "RB",  # the standard has no wing-backs
    "LWB": "LB",
}
POSITION_FROM = {"CDM": "DM", "CAM": "AM", "CF": "ST", "SUB": ""}
GROUPS = {
    "GK": ("GK",),
    "DF": ("LB", "LCB", "CB", "RCB", "RB"),
    "MF": ("LAM", "CAM", "RAM", "LM", "LCM", "CM", "RCM", "RM", "LDM", "CDM", "RDM"),
    "FW": ("LW", "LCF", "CF", "RCF", "RW"),
}


def kind_of(type_: str, sub_type: str | None, outcome: str) -> str | None:
    """Return the kit's kind for the words of a file, or None if it has no such kind.

    >>> kind_of("defending", "interception", "interception"), kind_of("save", None, "successful")
    ('interception', 'save')
    >>> kind_of("referee", None, "start"), kind_of("misc", "juggling", "") is None
    ('period-start', True)
    """
    if type_ in ("pass", "shot"):
        return type_
    if type_ == "referee" and outcome in ("start", "end"):
        return f"period-{outcome}"
    for word in (sub_type, type_):
        if word in KIND_FROM:
            return KIND_FROM[word]
    return None
