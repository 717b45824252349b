"""Report interval, flicks and releases over random simulated worlds."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.hand import prepare
from feelcheck.model import HandView, Recording
from feelcheck.sources.synthetic import quick_script, random_world, simulate_recording


def simulated(seed: int) -> Recording:
    rng = np.random.default_rng(seed)
    style = "table" if seed % 2 else "events"
    world = random_world(rng, style=style, report_interval_s=(0.001, 0.008))
    return simulate_recording(world, quick_script(8, rng), rng)


def interval_error(view: HandView) -> float | None:
    value = view.clock.interval.value
    return None if value is None else abs(value / float(view.recording.truth["report_interval_s"]) - 1)


def contacts_found(view: HandView) -> tuple[int, int]:
    truth = view.recording.truth
    instants = [float(truth[f"left.contact_{k}.t_s"]) for k in range(int(float(truth["left.n_contacts"])))]
    flicks = [s for s in view.segments if s.kind == "flick"]
    held = [any(f.start_s < t - 0.02 and t + 0.1 < f.end_s for f in flicks) for t in instants]
    return sum(held), len(held)


def check(seeds: range, least_known: float, least_found: float) -> None:
    views = [prepare(simulated(seed)) for seed in seeds]
    errors = [interval_error(view) for view in views]
    known = [error for error in errors if error is not None]
    assert len(known) >= least_known * len(errors)
    assert max(known) < 0.005
    found = np.array([contacts_found(view) for view in views]).sum(axis=0)
    assert found[0] >= least_found * found[1]


@pytest.mark.statistical
def test_interval_within_half_a_percent_and_flicks_found_over_random_worlds() -> None:
    check(range(100, 110), 0.9, 0.97)


@pytest.mark.full
def test_interval_and_flicks_over_many_random_worlds() -> None:
    check(range(1000, 1200), 0.95, 0.97)
