"""The packed frames of the moving pitch, unpacked by hand.  Source: the form stated in `FrameChunks`."""

import math
from contextlib import nullcontext

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.explorer.store import Store
from tactical_kit.scenes.playback import FrameChunks, Playback


def unpack(chunks, number):
    flat, (k, n) = chunks.packed(number)
    players = len(chunks.tracking.players)
    assert k == number and flat.dtype == np.int16
    xy = flat[: n * players * 2].reshape(n, players, 2)
    ball = flat[n * players * 2 : n * players * 2 + n * 3].reshape(n, 3)
    return xy, ball, flat[n * players * 2 + n * 3 :].view("<f8")


def test_chunks_give_back_the_tracking_within_half_a_centimetre(match):
    chunks = FrameChunks(match)
    tracking = match.tracking
    sign = np.where(tracking.period == 1, 1, -1)
    total = 0
    for number in range(len(chunks)):
        xy, ball, t = unpack(chunks, number)
        a, b = chunks.edges[number], chunks.edges[number] + len(t)
        known = np.isfinite(tracking.xy[a:b])
        assert ((xy == -32768) == ~known).all()
        expected = tracking.xy[a:b] * sign[a:b, None, None]
        assert np.nanmax(np.abs(np.where(known, xy / 100 - expected, 0))) <= 0.00501
        assert np.abs(ball[:, 2] / 100 - tracking.ball[a:b, 2]).max() <= 0.00501
        assert np.allclose(t, match.clock.timeline(tracking.period[a:b], tracking.time_s[a:b]))
        total += len(t)
    # Every chunk but the last repeats the first frame of the next one.
    assert total == len(tracking) + len(chunks) - 1


def test_no_chunk_holds_two_periods_but_for_the_repeated_frame(match):
    chunks = FrameChunks(match)
    assert len(chunks) == 10  # two halves of five minutes
    for a, b in zip(chunks.edges[:-1], chunks.edges[1:]):
        assert len(set(match.tracking.period[a:b])) == 1


def test_chunk_of_an_instant(match):
    chunks = FrameChunks(match)
    assert [chunks.at(t) for t in (0.0, 59.95, 60.0, 299.9, 300.0, 1e9, -5)] == [0, 0, 1, 4, 5, 9, 0]


def test_asked_chunks_are_sent_and_nonsense_is_not(match):
    playback = Playback(match, Store(match).phases)
    playback.want.data = {"chunk": [3, 4], "nonce": [1, 1]}
    assert [h[0] for h in playback.chunk.data["head"]] == [3, 4]
    playback.want.data = {"chunk": [999, -1], "nonce": [2, 2]}
    assert [h[0] for h in playback.chunk.data["head"]] == [3, 4]


def test_go_to_commands_the_page(match):
    pushed = []
    playback = Playback(match, turn="away", batch=lambda: pushed.append(1) or nullcontext())
    playback.go_to(2, 10.0, play=True, until=25.0)
    sent = dict(playback.command.data)
    assert math.isnan(sent.pop("place_x")[0]) and math.isnan(sent.pop("place_y")[0])
    assert sent == {"t": [310.0], "play": [1], "until": [325.0], "turn": [-1], "serial": [1], "ring": [""]}
    playback.turn_to("home")
    assert playback.command.data["turn"] == [1] and playback.command.data["serial"] == [2]
    playback.turn_to(None)  # the home side, as before
    assert playback.command.data["serial"] == [2] and len(pushed) == 2


def test_who_is_involved_and_where_it_was_travel_with_the_command(match):
    playback = Playback(match)
    playback.go_to(1, 10.0, players=("a1", "h2", "stranger"), place=(30.0, -5.0, "a"))
    sent = playback.command.data
    players = match.tracking.players
    assert sent["ring"] == [f"{players.index('a1')},{players.index('h2')}"]
    # The place is told in the away side's frame; the command speaks in the home side's.
    assert (sent["place_x"], sent["place_y"]) == ([-30.0], [5.0])
    playback.turn_to("away")
    assert playback.command.data["ring"] == sent["ring"] and playback.command.data["place_x"] == [-30.0]
    playback.go_to(1, 20.0)
    assert playback.command.data["ring"] == [""]


def test_the_cursor_comes_back_as_period_and_seconds(match):
    told = []
    playback = Playback(match, on_cursor=lambda *at: told.append(at))
    playback.report.data = {"t": [310.5], "playing": [1]}
    assert told == [(2, 10.5)] and playback.cursor == (2, 10.5) and playback.playing


def test_without_tracking_it_is_refused_in_words(match):
    with pytest.raises(MissingDataError) as caught:
        Playback(match.with_data(tracking=None))
    assert str(caught.value) == (
        "The moving pitch needs tracking; this match has events. The charts from events work without it."
    )
