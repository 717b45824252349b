"""What `feelcheck bench` costs from its start, against importing the libraries, in the same run."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

pytestmark = pytest.mark.usefixtures("compiled_once")
LIBRARIES = "import numpy, pandas, scipy.optimize, typer, rich"
N_SAMPLES = 50_000
SCOPE = Scope(interval_s=110e-3 / N_SAMPLES)
SLOW_FALL = Parts(sink="current", sink_a=8e-6, c_pin_f=1e-6, r_series_ohm=1e3, c_behind_f=1e-6)
WORLDS = {
    "pole": BenchWorld(parts=Parts(poles_s=(4.7e-3,)), scope=SCOPE),
    "stairs": BenchWorld(coil=Coil(rise_s=6e-3, fall_s=6e-3), sensor=Sensor(sample_interval_s=0.65e-3), scope=SCOPE),
    "coarse hold": BenchWorld(
        coil=Coil(rise_s=3e-3, fall_s=3e-3),
        sensor=Sensor(sample_interval_s=1e-3, sample_phase_s=0.37e-3),
        scope=SCOPE,
    ),
    "hold and pole": BenchWorld(
        coil=Coil(rise_s=3e-3, fall_s=3e-3),
        sensor=Sensor(sample_interval_s=1.2e-3, sample_phase_s=0.44e-3),
        parts=Parts(poles_s=(0.5e-3,)),
        scope=SCOPE,
    ),
    "long fall": BenchWorld(parts=SLOW_FALL, scope=SCOPE),
    "saturated": BenchWorld(sensor=Sensor(low_v=0.6, high_v=1.2), parts=Parts(poles_s=(4.7e-3,)), scope=SCOPE),
}


def processor_s(*words: str, status: int = 0) -> float:
    """Processor time of the cheapest of three runs of this Python."""
    spent = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run([sys.executable, *words], capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert done.returncode == status, done.stderr.decode()
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(spent)


def written(world: BenchWorld, path: Path) -> Path:
    """A capture as an instrument exports it."""
    capture = simulate_capture(world, np.random.default_rng(9))
    columns = {f"{c.name} ({c.unit})": c.values for c in capture.channels}
    pd.DataFrame({"Time (s)": capture.t_s, **columns}).to_csv(path, index=False, float_format="%.7g")
    return path


@pytest.mark.parametrize("kind", WORLDS)
def test_a_capture_costs_two_and_a_half_times_the_libraries_at_most(kind: str, tmp_path: Path) -> None:
    path = written(WORLDS[kind], tmp_path / "alder.csv")
    libraries, ours = processor_s("-c", LIBRARIES), processor_s("-m", "feelcheck", "bench", str(path))
    print(f"{kind}: libraries {libraries:.2f} s, bench {ours:.2f} s, ratio {ours / libraries:.2f}")
    assert ours <= 2.5 * libraries


@pytest.mark.parametrize("content", [None, "", "a word\n", "\x89PNG\r\n\x1a\n\0\0"])
def test_a_file_that_is_none_costs_half_the_libraries_at_most(content: str | None, tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    if content is not None:
        path.write_text(content, encoding="latin-1")
    libraries, ours = processor_s("-c", LIBRARIES), processor_s("-m", "feelcheck", "bench", str(path), status=2)
    print(f"{content!r}: libraries {libraries:.2f} s, refused {ours:.2f} s, ratio {ours / libraries:.2f}")
    assert ours <= 0.5 * libraries


def test_four_million_samples_cost_twice_their_reading_and_a_small_capture_at_most(tmp_path: Path) -> None:
    n = 4_000_000
    small = WORLDS["pole"].scope
    world = BenchWorld(parts=Parts(poles_s=(4.7e-3,)), scope=Scope(interval_s=small.duration_s / n))
    path = written(world, tmp_path / "alder.csv")
    libraries = processor_s("-c", LIBRARIES)
    reading = processor_s("-c", f"import pandas; pandas.read_csv({str(path)!r})") - processor_s("-c", "import pandas")
    ours = processor_s("-m", "feelcheck", "bench", str(path))
    print(f"4 million: libraries {libraries:.2f} s, pandas {reading:.2f} s, bench {ours:.2f} s")
    assert ours <= 2.0 * reading + 2.5 * libraries
