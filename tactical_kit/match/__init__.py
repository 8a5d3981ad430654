"""What happened: the match, its clock, its events and its tracking."""

from tactical_kit.match.clock import PERIOD_NAMES, Clock, Period
from tactical_kit.match.events import EVENT_COLUMNS, KINDS, SET_PLAYS, empty_events, events_table
from tactical_kit.match.model import INVENTED_LABEL, Match, Player, Team
from tactical_kit.match.remember import forget, remembered
from tactical_kit.match.snapshot import Snapshot
from tactical_kit.match.tracking import Tracking

__all__ = [
    "EVENT_COLUMNS", "INVENTED_LABEL", "KINDS", "PERIOD_NAMES", "SET_PLAYS", "Clock", "Match", "Period", "Player",
    "Snapshot", "Team", "Tracking", "empty_events", "events_table", "forget",
    "remembered",
]  # fmt: skip
