"""Where trials are placed, and what too few or too clear answers tell."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.psychometrics import AdaptivePlacement, Staircase, fit_threshold, placement_named, plan_choices
from feelcheck.psychometrics.forced_choice import sensitivity_of
from feelcheck.psychometrics.throughput import AimedMove, error_rate, throughput_of


def test_two_correct_make_it_harder_and_one_wrong_easier() -> None:
    stairs = Staircase(n_down=2, start_s=0.04, first_step=2.0, last_step=1.25)
    shown = []
    for right in (True, True, True, True, False, True, True, True, True):
        shown.append(round(stairs.next_s(), 6))
        stairs.take(stairs.next_s(), right)
    assert shown == [0.04, 0.04, 0.02, 0.02, 0.01, 0.02, 0.02, 0.016, 0.016]
    assert stairs.reversals_s == pytest.approx([0.01, 0.02])


def test_a_staircase_stays_between_its_ends() -> None:
    stairs = Staircase(n_down=3)
    for _ in range(60):
        stairs.take(stairs.next_s(), True)
    assert stairs.next_s() == stairs.least_s
    for _ in range(60):
        stairs.take(stairs.next_s(), False)
    assert stairs.next_s() == stairs.most_s


def test_adaptive_placement_closes_in_and_gives_an_easy_one_now_and_then() -> None:
    placed = AdaptivePlacement()
    shown = []
    rng = np.random.default_rng(4)
    for _ in range(48):
        level_s = placed.next_s()
        shown.append(level_s)
        placed.take(level_s, bool(rng.random() < (0.98 if level_s > 0.01 else 0.5)))
    later = [level_s for k, level_s in enumerate(shown) if k >= 24 and k % 12 != 11]
    assert 0.004 < float(np.median(later)) < 0.02
    easy = [shown[k] for k in (23, 35, 47)]
    assert min(easy) > float(np.median(later))


def test_an_unknown_placement_has_no_name() -> None:
    with pytest.raises(KeyError):
        placement_named("guess")


@pytest.mark.parametrize(
    ("seen", "status"),
    [
        ({}, "not_resolved"),
        ({0.01: (30, 16)}, "at_least"),
        ({0.01: (30, 30)}, "at_most"),
        ({0.004: (40, 22), 0.01: (40, 30), 0.03: (40, 40)}, "ok"),
    ],
)
def test_what_the_answers_do_not_bound_is_said(seen: dict[float, tuple[int, int]], status: str) -> None:
    found = fit_threshold(seen)
    assert str(found.status) == status
    assert bool(found.caveats) == (status in ("at_least", "at_most"))


def test_intervals_of_a_threshold_hold_it_as_often_as_they_say() -> None:
    """Sixty people with a threshold of 10 ms, forty trials at each of four lags, three in four correct there."""
    rng, lags = np.random.default_rng(1), np.array([0.004, 0.008, 0.012, 0.02])
    correct = 0.5 + 0.5 * (1 - np.exp2(-((lags / 0.01) ** 2.0)))
    found = [fit_threshold({lag: (40, int(k)) for lag, k in zip(lags, rng.binomial(40, correct), strict=True)})
             for _ in range(60)]  # fmt: skip
    away, us = np.array([(np.log((one.value or 0.0) / 0.01), (one.u or 0.0) / (one.value or 1.0)) for one in found]).T
    assert np.sum(np.abs(away) < 1.96 * us) >= 53
    assert np.std(away) == pytest.approx(np.mean(us), rel=0.25)


def test_four_trials_can_prove_nothing() -> None:
    plan = plan_choices(4)
    assert plan.least_correct is None
    assert set(plan.power.values()) == {0.0}


@pytest.mark.parametrize(
    ("k", "n", "status"), [(0, 0, "not_resolved"), (12, 12, "at_least"), (6, 12, "at_most"), (9, 12, "ok")]
)
def test_sensitivity_of_extreme_shares_is_a_bound(k: int, n: int, status: str) -> None:
    assert str(sensitivity_of(k, n).status) == status


def test_one_sequence_is_as_unsure_as_its_movements_scatter() -> None:
    """Leaving out one at a time gives a mean's own standard deviation, by n - 1 and over the root of n."""
    took_s = np.random.default_rng(2).uniform(0.4, 0.8, 13)
    moves = [AimedMove(start=(0, 0), target=(1, 0), selected=(1 + 0.02 * (-1) ** k, 0), took_s=float(t), missed=False)
             for k, t in enumerate(took_s)]  # fmt: skip
    found = throughput_of([moves], "mean_time")
    assert (found.value, found.u) == pytest.approx((took_s.mean(), took_s.std(ddof=1) / np.sqrt(13)))


def test_error_rate_counts_over_all_sequences() -> None:
    def move(missed: bool) -> AimedMove:
        return AimedMove(start=(0, 0), target=(1, 0), selected=(1, 0), took_s=1.0, missed=missed)

    found = error_rate([[move(True), move(False)], [move(False)] * 8])
    assert (found.value, found.n) == (0.1, 10)
