"""The match story: a first outline of a match from everything that its data let be found."""

from tactical_kit.story.facts import FACTS, NUMBERS, SINGLES, TOPICS, Fact, Number
from tactical_kit.story.tell import KINDS, Story, StoryLine, match_story

__all__ = ["FACTS", "KINDS", "NUMBERS", "SINGLES", "TOPICS", "Fact", "Number", "Story", "StoryLine", "match_story"]
