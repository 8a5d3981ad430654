"""The Common Data Format (CDF) 0.3.2, an open standard for football data (arXiv 2505.15820).

A match is four files: meta.json (teams, periods, pitch), match.json (squads, result, goals, cards,
substitutions), events.jsonl and tracking.jsonl (a line an event or a frame).

How the standard was read
-------------------------
Directions.  "The CDF requires a standardized playing direction.  The left_team_id and right_team_id should be
the actual, non-standardized sides" (schema of meta.json).  So the kit writes every coordinate with the home
side attacking from left to right (+x), says so in play_direction, and writes who really stood where in
left_team_id and right_team_id.  A reader that goes by either is right.  On reading, play_direction is taken as
the direction in the coordinates and left_team_id as the truth on the pitch; if keepers and shots contradict
play_direction, they are believed, with a warning.

Times are UTC.  A match that knows no kick-off gets one at 15:00 UTC of its day, or of 2000-01-01 where the day
is unknown (which is read as unknown again), with breaks of 15 minutes at half-time, 5 before extra time, 1
within it and 5 before a shoot-out.

Ids are kept.  Where the validator wants a plain word in lower case (team and event ids), "T1" is written as
"id:T1" and read as "T1".

What a round trip from match folder to CDF and back does not keep
-----------------------------------------------------------------
- tags; columns of the events that the kit does not know; the flag `invented` (it is told from the label);
- tracking finer than a centimetre, times finer than a microsecond; the order of the columns of players; a player
  of the tracking without a single position; places beyond 65 x 42.5 m (the validator's limit; they are moved
  to it);
- the end of an event without a receiver, unless tracking has a frame at that time; an end place that equals
  the start of a pass or shot;
- the detail of a pass or shot that is a set play, as there is one sub_type; success where it says no more than
  the kind (a recovery that is not told succeeds); outcome "" of a pass, tackle... that is told as successful;
- the team of a foul, offside or "out" without a player; the place of a card, substitution or other event
  without a player at exactly the centre spot (it stands for "no place" there);
- wing-backs (they become full-backs), positions the standard does not list; a shirt number 0;
- pass, shot and other actions without player or team, or without any place (left out);
- short names, positions, of a match without events: match.json demands a result, so it is not written.

Everything that happens to a match is reported: see `problems` of `write_cdf` and `read_cdf`.

Where a frame has no ball, null is written, as the schema allows; the validator package 0.1.1 objects to that
null in a check of its own, beyond the schema.
"""

from __future__ import annotations

from tactical_kit.sources.cdf_read import check_cdf, find_cdf_files, is_cdf, read_cdf
from tactical_kit.sources.cdf_write import CDF_VERSION, write_cdf

__all__ = ["CDF_VERSION", "check_cdf", "find_cdf_files", "is_cdf", "read_cdf", "write_cdf"]
