"""Forced choice, staircases, thresholds and throughput against published values and a general-purpose toolbox."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import special

from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.psychometrics import (
    AimedMove,
    Likelihood,
    Staircase,
    fit_threshold,
    least_correct,
    p_of_correct,
    plan_choices,
    proportion_of,
    sensitivity_of,
    sequence_figures,
    throughput_of,
)
from feelcheck.psychometrics.forced_choice import exact_interval
from feelcheck.psychometrics.threshold import LAPSES

pytestmark = pytest.mark.reference
DATA = Path(__file__).parent / "data"


def test_least_number_correct_is_that_of_the_standards_table() -> None:
    # ISO 5495 (paired comparison, one-sided) and ISO 10399, read in their GOST adoptions; exact match.
    table = pd.read_csv(DATA / "binomial_min_correct_p50.csv", comment="#")
    n_column, *alphas = table.columns
    checked = 0
    for _, row in table.iterrows():
        for column in alphas:
            if pd.notna(row[column]) and str(row[column]).strip() not in ("", "-"):
                assert least_correct(int(row[n_column]), float(column.removeprefix("alpha_"))) == int(row[column])
                checked += 1
    assert checked > 150


# Tail probabilities of the same tables, recomputed with exact fractions.
@pytest.mark.parametrize(
    ("k", "n", "p"), [(9, 10, 0.010742), (12, 16, 0.038406), (15, 20, 0.020695), (18, 25, 0.021643), (8, 10, 0.054688)]
)
def test_tail_probability(k: int, n: int, p: float) -> None:
    assert p_of_correct(k, n) == pytest.approx(p, abs=5e-7)


# Power of the exact test at 5 %: table recomputed with scipy's binomial, two printed digits.
@pytest.mark.parametrize(
    ("n", "needed", "at_70", "at_80", "at_90"),
    [(10, 9, 0.15, 0.38, 0.74), (16, 12, 0.45, 0.80, 0.98), (23, 16, 0.62, 0.93, 1.0), (30, 20, 0.73, 0.97, 1.0)],
)
def test_power_of_a_plan(n: int, needed: int, at_70: float, at_80: float, at_90: float) -> None:
    plan = plan_choices(n)
    assert plan.least_correct == needed
    assert [plan.power[p] for p in (0.7, 0.8, 0.9)] == pytest.approx([at_70, at_80, at_90], abs=0.005)


def test_exact_interval_of_a_share() -> None:
    # Clopper and Pearson (1934): 12 of 16 is 0.48 to 0.93, 8 of 16 is 0.25 to 0.75 (two printed digits).
    assert exact_interval(12, 16) == pytest.approx((0.48, 0.93), abs=0.005)
    assert exact_interval(8, 16) == pytest.approx((0.25, 0.75), abs=0.005)
    assert proportion_of(12, 16).u == pytest.approx(math.sqrt(0.75 * 0.25 / 16))
    assert proportion_of(16, 16).bound == pytest.approx(0.7941, abs=1e-4)


# pc = Phi(d'/sqrt 2): 0.75 is 0.954, 0.7602 is 1, 70.7 % is 0.77 (Macmillan & Creelman, from memory; confirmed below).
@pytest.mark.parametrize(("k", "n", "d"), [(75, 100, 0.9539), (7602, 10000, 1.0), (7071, 10000, 0.7706)])
def test_sensitivity_behind_a_share(k: int, n: int, d: float) -> None:
    assert sensitivity_of(k, n).value == pytest.approx(d, abs=2e-3)


def test_sensitivity_is_that_of_an_observer_who_compares_two_noisy_intervals() -> None:
    rng = np.random.default_rng(11)
    n = 400_000
    correct = int(np.sum(1.3 + rng.standard_normal(n) > rng.standard_normal(n)))
    assert sensitivity_of(correct, n).value == pytest.approx(1.3, abs=0.01)


# Levitt (1971): two down one up settles where p^2 = 1/2, three down where p^3 = 1/2.
@pytest.mark.parametrize(("n_down", "settles_at"), [(2, math.sqrt(0.5)), (3, 0.5 ** (1 / 3))])
def test_staircases_settle_where_they_must(n_down: int, settles_at: float) -> None:
    rng = np.random.default_rng(2)
    stairs = Staircase(n_down=n_down, last_step=1.02, first_step=1.3)

    def chance(level_s: float) -> float:
        return float(special.ndtr(0.67449 * level_s / 0.012))

    for _ in range(9000):
        level_s = stairs.next_s()
        stairs.take(level_s, bool(rng.random() < chance(level_s)))
    middle_s = math.exp(float(np.mean(np.log(stairs.reversals_s[20:]))))
    assert chance(middle_s) == pytest.approx(settles_at, abs=0.01)


TUTORIAL = dict(zip((0.0, 2.0, 4.0, 6.0, 8.0, 10.0), ((50, k) for k in (34, 32, 40, 48, 50, 48)), strict=True))
"""Two alternatives, 50 trials a level: worked input of a widely used toolbox' tutorial."""


def test_threshold_agrees_with_the_toolbox_on_its_own_tutorial_data() -> None:
    psignifit = pytest.importorskip("psignifit")
    data = np.array([(x, k, n) for x, (n, k) in TUTORIAL.items()])
    theirs = psignifit.psignifit(data, experiment_type="2AFC", stimulus_range=[0, 10], sigmoid="norm")
    low, high = theirs.confidence_intervals["threshold"]["0.95"]
    spreads = np.geomspace(0.5, 12.0, 40)
    flat = np.zeros((241, spreads.size, len(LAPSES)))
    ours = fit_threshold(TUTORIAL, Likelihood(np.linspace(-4.0, 10.0, 241), spreads, flat, weibull=False), unit="")
    our_low, our_high = coverage_interval(ours)
    assert ours.value is not None
    assert low < ours.value < high
    assert our_low is not None
    assert our_high is not None
    assert our_low < theirs.parameter_estimate["threshold"] < our_high
    # Much the same, not merely inside: a third of the toolbox' own interval (4 units wide).
    assert abs(ours.value - theirs.parameter_estimate["threshold"]) < 1.3


def test_maximum_likelihood_is_the_top_that_an_optimiser_finds() -> None:
    from scipy import optimize

    def minus(parameters: np.ndarray) -> float:
        middle, log_spread = parameters
        return -sum(
            k * math.log(p) + (n - k) * math.log1p(-p)
            for x, (n, k) in TUTORIAL.items()
            for p in [0.5 + 0.48 * float(special.ndtr((x - middle) / math.exp(log_spread)))]
        )

    found = optimize.minimize(minus, np.array([3.0, 1.0]), method="Nelder-Mead").x
    spreads = np.geomspace(0.5, 12.0, 200)
    only = np.where(np.array(LAPSES) == 0.02, 0.0, -1e9)
    prior = np.broadcast_to(only, (281, spreads.size, len(LAPSES)))
    ours = fit_threshold(TUTORIAL, Likelihood(np.linspace(-4.0, 10.0, 281), spreads, prior, weibull=False), unit="")
    assert ours.value == pytest.approx(found[0], abs=0.03)


AIMED = """
540.2 592.0 227.8 592.0 218.5 534.3 263
227.8 592.0 540.2 592.0 529.5 496.3 268
540.2 592.0 227.8 592.0 195.0 608.0 248
227.8 592.0 540.2 592.0 533.5 547.0 234
540.2 592.0 227.8 592.0 209.8 651.0 251
227.8 592.0 540.2 592.0 607.0 554.0 253
540.2 592.0 227.8 592.0 231.3 650.8 283
227.8 592.0 540.2 592.0 540.8 568.3 215
540.2 592.0 227.8 592.0 231.9 642.5 301
227.8 592.0 540.2 592.0 560.5 567.0 267
540.2 592.0 227.8 592.0 207.5 653.8 259
227.8 592.0 540.2 592.0 524.5 604.8 259
540.2 592.0 227.8 592.0 239.1 704.3 248
227.8 592.0 540.2 592.0 515.0 610.9 243
540.2 592.0 227.8 592.0 180.0 675.5 242
227.8 592.0 540.2 592.0 501.0 606.5 253
540.2 592.0 227.8 592.0 215.5 666.0 244
227.8 592.0 540.2 592.0 572.0 621.5 256
540.2 592.0 227.8 592.0 215.4 690.5 252
227.8 592.0 540.2 592.0 521.5 641.8 210
"""
"""MacKenzie & Soukoreff, documentation of their throughput calculation (2013-2016), worked example: 20 movements
between two targets 312.4 apart and 130.2 wide; from, to and selected in pixels, time in ms. Printed rounded: the
document, from unrounded readings, gives 8.044 bit/s, these rows 8.0405."""


def aimed() -> list[AimedMove]:
    rows = [[float(cell) for cell in line.split()] for line in AIMED.strip().splitlines()]
    moves = [
        AimedMove(start=(a, b), target=(c, d), selected=(e, f), took_s=ms / 1e3, missed=False)
        for a, b, c, d, e, f, ms in rows
    ]
    return [replace(move, missed=abs(move.overshoot) > 130.2 / 2) for move in moves]


def test_throughput_of_the_worked_example() -> None:
    found = sequence_figures(aimed())
    assert found["throughput"] == pytest.approx(8.044, abs=0.01)
    assert found["effective_index"] == pytest.approx(2.02985, abs=1e-3)
    assert found["effective_amplitude"] == pytest.approx(327.058, abs=0.02)
    assert found["effective_width"] == pytest.approx(106.063, abs=0.02)
    assert sum(move.missed for move in aimed()) == 1


def test_throughput_has_an_interval_and_needs_movements() -> None:
    one = throughput_of([aimed()])
    assert one.value == pytest.approx(8.044, abs=0.01)
    assert one.u is not None
    # In one sequence: 20 movement times (sd 20 ms of 252) over sqrt 20, and the width's spread, 1/sqrt(2 19).
    assert 0.1 < one.u < 1.5
    assert str(throughput_of([aimed()[:4]]).status) == "not_resolved"
    several = throughput_of([aimed()[:10], aimed()[10:]])
    halves = [sequence_figures(aimed()[:10])["throughput"], sequence_figures(aimed()[10:])["throughput"]]
    assert several.value == pytest.approx(np.mean(halves))
    assert several.u == pytest.approx(np.std(halves, ddof=1) / math.sqrt(2))
    assert several.dof == 1
