"""How long `import tactical_kit` takes in a new process; the limit is the kit's own promise of 0.6 s."""

import subprocess
import sys

import pytest

pytestmark = pytest.mark.benchmark


def _run(code):
    subprocess.run([sys.executable, "-c", code], check=True)


def test_import_takes_at_most_0_6_s(benchmark):
    benchmark.pedantic(_run, args=("import tactical_kit",), rounds=5, warmup_rounds=1)
    assert benchmark.stats.stats.median <= 0.6


def test_beside_it_importing_pandas_alone(benchmark):
    benchmark.pedantic(_run, args=("import pandas",), rounds=3, warmup_rounds=1)
