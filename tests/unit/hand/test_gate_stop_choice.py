"""Choosing among candidates: few flicks and all, hollows beside each other, stops that are none."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.batches import lay_out
from feelcheck.hand.gate_stop.choice import Chosen, choose_from_few
from feelcheck.hand.gate_stop.pooling import HARD, SOFT_U, softness_u
from feelcheck.hand.gate_stop.readings import stick_readings
from feelcheck.hand.gate_stop.rim_priors import IDEAS, rim_of
from feelcheck.hand.gate_stop.search import BESIDE, Found, everything, refined
from feelcheck.hand.gate_stop.windows import flick_windows
from feelcheck.hand.view import prepare
from feelcheck.model import FloatArray
from feelcheck.sources.synthetic import quick_script, simulate_recording, world_with


@cache
def flicks(effect: str = "plain", tau_s: float = 0.006) -> tuple[Batch, FloatArray]:
    """Return a dozen simulated flicks and their onsets."""
    rng = np.random.default_rng(7)
    view = prepare(simulate_recording(world_with(effect, rng, tau_s=tau_s), quick_script(12, rng), rng))
    reports = stick_readings(view, view.sticks[0])
    windows, variance = flick_windows(reports, [(s.start_s, s.end_s) for s in view.segments if s.kind == "flick"])
    return lay_out([w for w in windows if not w.why_not], variance, reports.interval_s)


@cache
def chosen(effect: str = "plain") -> Chosen:
    return choose_from_few(*flicks(effect), np.full(4, 0.005))


def test_one_pole_is_chosen_where_there_is_one_and_an_average_was_looked_at() -> None:
    assert chosen().shape.name == "one_pole"
    assert chosen().best is chosen().one_pole
    assert "pole_average" in chosen().names
    assert len(chosen().names) == len(chosen().gains) == len(chosen().delay_ratios) == len(chosen().tau_ratios)


def test_what_few_flicks_took_for_an_average_gives_way_to_one_pole_in_all() -> None:
    average = next(found for found in chosen().tried if found.fit.shape.name == "pole_average")
    mistaken = replace(chosen(), best=average)
    all_flicks = mistaken.carried_to(lambda few: refined(few, few.batch, 3))
    assert all_flicks.shape.name == "one_pole"
    gain = all_flicks.gains[all_flicks.names.index("pole_average")]
    assert gain > 0


def test_an_average_that_all_flicks_show_stands() -> None:
    found = chosen("average")
    assert found.shape.name == "pole_average"
    batch, onset = flicks("average")
    assert found.carried_to(lambda few: everything(few, batch, onset)).shape.name == "pole_average"


def test_fits_begun_beside_the_best_end_no_better_and_are_remembered() -> None:
    batch, onset = flicks()
    found = everything(chosen().best, batch, onset)
    assert len(found.rivals) == len(BESIDE)
    assert all(worse >= 0 for _, worse in found.rivals)
    np.testing.assert_allclose(found.fit.tau_s[:, 0], 0.006, rtol=0.04)


def test_hollows_that_fit_as_well_count_as_doubt() -> None:
    best = chosen().best
    twice = replace(best, rivals=((np.full(4, 2.0), 0.0),))
    far = replace(best, rivals=((np.full(4, 2.0), 1000.0),))
    assert replace(chosen(), best=twice).rim_spread(0) == pytest.approx(np.log(2.0) / np.sqrt(2.0))
    assert replace(chosen(), best=far).rim_spread(0) < 1e-6


def test_the_usual_manner_is_that_of_the_flick_most_like_the_others() -> None:
    rim = replace(
        rim_of(IDEAS[0], 5), outward=np.outer([9.0, 1.0, 2.0, 3.0, -9.0], np.ones(rim_of(IDEAS[0], 5).outward.shape[1]))
    )
    usual = rim.usual(3)
    assert usual.outward.shape[0] == usual.radial.shape[0] == 3
    assert np.all(usual.outward == 2.0)


def slowed(found: Found, share: float) -> Found:
    """Return the fit with its speed at contact scaled: the powers of time before contact carry it."""
    coefficients = found.fit.coefficients.copy()
    coefficients[:, 1:5] *= share
    return replace(found, fit=replace(found.fit, coefficients=coefficients))


def test_a_stop_without_an_edge_is_less_sure() -> None:
    hard = chosen().best
    assert softness_u(hard, 0) == 0.0
    assert softness_u(slowed(hard, 0.0), 0) == pytest.approx(SOFT_U)
    assert 0.0 < softness_u(slowed(hard, 0.1 * HARD), 0) < SOFT_U
    assert softness_u(slowed(hard, -50.0), 0) == 1.0
