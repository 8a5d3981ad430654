"""How long a canvas takes to show another scene, and a picture to be printed.

Run with `pytest tests/benchmarks -m benchmark --benchmark-enable`.
"""

import math

import pytest

from tactical_kit.scenes import Arrow, Disc, Scene, Zone
from tactical_kit.scenes.printing import to_bytes

pytestmark = pytest.mark.benchmark


def _network(shift):
    """As many marks as a pass network of a whole match has: 16 players, 60 links, 16 ghosts."""
    spots = [(45 * math.cos(i + shift), 30 * math.sin(1.7 * i + shift)) for i in range(16)]
    discs = [
        Disc(x, y, label=str(i), name=f"Name {i}", team=0, key=f"p{i}", hover="h") for i, (x, y) in enumerate(spots)
    ]
    ghosts = [Disc(x + 1, y + 1, team=0, layer="ghost") for x, y in spots]
    pairs = [(i, (i + k) % 16) for i in range(16) for k in (1, 3, 5, 7)][:60]
    links = [Arrow(*spots[a], *spots[b], team=0, width=1 + a / 8, head_at=0.6, value=float(a)) for a, b in pairs]
    return Scene("network", marks=(*ghosts, *links, *discs))


def _zones(shift):
    marks = [
        Zone.rect(-52.5 + 8.75 * i, -34 + 8.5 * j, -43.75 + 8.75 * i, -25.5 + 8.5 * j, value=float(i + j),
                  shade=((i + j + shift) % 20) / 20, label=str(i + j), note="9 s", key=f"{i},{j}", hover="h")
        for i in range(12) for j in range(8)
    ]  # fmt: skip
    return Scene("zones", marks=marks)


@pytest.mark.parametrize("make", [_network, _zones])
def test_show_another_scene(benchmark, make):
    canvas = make(0).canvas()
    scenes = [make(1), make(2)]
    turn = iter(range(10**9))
    changed = benchmark(lambda: canvas.show(scenes[next(turn) % 2]))
    assert changed


@pytest.mark.parametrize("make", [_network, _zones])
def test_show_the_same_scene(benchmark, make):
    canvas = make(0).canvas()
    assert benchmark(lambda: canvas.show(make(0))) == ()


def test_make_a_canvas(benchmark):
    scene = _network(0)
    assert benchmark(scene.canvas).scene == scene


@pytest.mark.parametrize("form", ["png", "svg", "pdf"])
def test_print(benchmark, form):
    scene = _network(0)
    assert benchmark.pedantic(to_bytes, args=(scene, form), rounds=3)
