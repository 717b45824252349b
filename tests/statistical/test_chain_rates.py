"""The chain on whole simulated specimens: wrong links are seen and named, sound ones are not accused."""

from __future__ import annotations

import itertools
import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

CHAIN: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("chain_table.py")))
SENSORS: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("sensor_table.py")))


@pytest.mark.statistical
@pytest.mark.parametrize(("fault", "share"), [("derated", 4.0), ("swapped", 0.0), ("misread", 0.0), ("weak_sink", 0.0)])
def test_a_part_that_is_not_as_recorded_is_seen_and_named(fault: str, share: float) -> None:
    outcome = CHAIN["specimen_outcome"](fault, share, 71, n_sessions=0)
    assert any(link.verdict == "disagree" for link, _ in outcome.links)
    assert not any(CHAIN["is_wrong"](link, difference) for link, difference in outcome.links)
    assert CHAIN["names_the_suspect"](outcome)


@pytest.mark.statistical
def test_a_filter_that_only_the_hand_sees_is_seen_and_named() -> None:
    outcome = CHAIN["specimen_outcome"]("filter", 6.0, 72, tau_s=0.006, n_sessions=1)
    assert not any(CHAIN["is_wrong"](link, difference) for link, difference in outcome.links)
    assert CHAIN["names_the_suspect"](outcome)


@pytest.mark.statistical
def test_a_sound_specimen_agrees_and_bench_and_hand_tell_of_each_other() -> None:
    (outcome,) = CHAIN["goal_outcomes"]((12.0,), range(73, 74))
    assert {link.verdict for link, _ in outcome.links if link.link == "parts-bench"} == {"agree"}
    assert not any(CHAIN["is_wrong"](link, difference) for link, difference in outcome.links)
    for name, estimate, true_s in CHAIN["goal_pairs"](outcome):
        assert estimate.value == pytest.approx(true_s, rel=0.10), name
    assert np.mean(outcome.inside) >= 0.9


@pytest.mark.statistical
@pytest.mark.parametrize("seeds", [range(403, 404), pytest.param(range(403, 406), marks=pytest.mark.full)])
def test_the_band_holds_tails_of_pads_that_differ_in_everything(seeds: range) -> None:
    outcomes = [CHAIN["varied_outcome"](k) for k in seeds]
    assert np.mean([share for o in outcomes for share in o.inside]) >= 0.9
    assert np.mean([width for o in outcomes for width in o.widths]) <= 0.3


@pytest.mark.statistical
def test_sensors_are_told_from_their_captures() -> None:
    kinds = [kind for kind in SENSORS["OTHERS"] if kind.name in ("3 ms slower", "1.5 x as sensitive")]
    found = SENSORS["judged"](2, 74, kinds)
    assert found["same"]["different"] == 0
    for kind in kinds:
        assert found[kind.name]["different"] == 4


@pytest.mark.full
def test_wrong_verdicts_of_the_chain_stay_below_one_in_twenty() -> None:
    parts = list(CHAIN["verdict_outcomes"](range(700, 714), ("derated", "swapped", "misread", "weak_sink")))
    outcomes = [*parts, *CHAIN["verdict_outcomes"](range(700, 705), ("none", "filter"))]
    for kind in ("parts-bench", "bench-hand"):
        pairs = [pair for outcome in outcomes for pair in outcome.links if pair[0].link == kind]
        assert np.mean([CHAIN["is_wrong"](*pair) for pair in pairs]) <= 0.05
        right = {"inside": "agree", "beyond": "disagree"}
        for place, verdict in right.items():
            there = [link for link, d in pairs if CHAIN["place_of"](link, d) == place]
            assert np.mean([link.verdict == verdict for link in there]) >= 0.6
    named = [told for outcome in outcomes if (told := CHAIN["names_the_suspect"](outcome)) is not None]
    assert np.mean(named) >= 0.95


@pytest.mark.full
def test_bench_and_hand_tell_of_each_other_within_ten_per_cent() -> None:
    outcomes = CHAIN["goal_outcomes"]((3.0, 5.0, 10.0, 20.0, 40.0, 60.0), range(8))
    errors, covered = CHAIN["goal_errors"]([(e, t) for o in outcomes for _, e, t in CHAIN["goal_pairs"](o)])
    assert np.mean(np.abs(errors) <= 0.10) >= 0.95
    assert np.mean(covered) >= 0.9


@pytest.mark.full
def test_the_band_holds_nine_tenths_of_the_reports_and_is_not_wide() -> None:
    """Below 6 ms the rim's give is half a tail high, and hardly any band is narrow enough to be shown."""
    outcomes = [CHAIN["varied_outcome"](k) for k in range(400, 440)]
    edges_ms = CHAIN["TAU_GROUPS_MS"][1:]
    for low, high in itertools.pairwise(edges_ms):
        own = [o for o in outcomes if low <= 1e3 * o.truth.slow_s < high]
        assert np.mean([share for o in own for share in o.inside]) >= 0.9
    assert np.mean([share for o in outcomes for share in o.inside]) >= 0.9
    assert np.mean([width for o in outcomes for width in o.widths]) <= 0.2
    assert CHAIN["tails_shown"](outcomes) >= 0.75


@pytest.mark.full
def test_wrong_sensor_verdicts_stay_below_one_in_twenty_apart_from_twins() -> None:
    found = SENSORS["judged"](10, 0)
    for name, counts in found.items():
        wrong = counts["different"] if name.startswith("same") else counts[SENSORS["CONSISTENT"]]
        assert wrong <= 0.05 * counts.total(), name
