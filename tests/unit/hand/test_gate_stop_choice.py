"""Choosing among candidates: few flicks and all, local optima beside each other, stops that are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from dozen_flicks import chosen, fitted, flicks

from feelcheck.hand.gate_stop import choice, doubts, pooling
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.doubts import softness_u
from feelcheck.hand.gate_stop.numbers import (
    BRACKET_SDS,
    CLEAR,
    CORRELATION,
    DECIDED,
    HARD,
    SOFT_U,
    UNSEEN_GIVE,
    YIELDS_S,
)
from feelcheck.hand.gate_stop.recursive import recursive_delay_s
from feelcheck.hand.gate_stop.released import NOTHING_RELEASED
from feelcheck.hand.gate_stop.rim_bracket import ONE_POLE, StickBrackets
from feelcheck.hand.gate_stop.rim_check import Wall
from feelcheck.hand.gate_stop.rim_priors import RIM_PRIORS, rim_of
from feelcheck.hand.gate_stop.search import BESIDE, Found, everything, refined


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


def test_an_average_whose_length_is_seen_is_taken_unless_the_rim_forbids_it() -> None:
    """The few flicks of one pole: nothing in their motion speaks for an average."""
    start = chosen().one_pole
    seen = choice.choose(start, averages=lambda _: 6)
    assert (seen.shape.name, seen.shape.n_average) == ("pole_average", 6)
    alike = 1.0 - seen.gains[seen.names.index("one_pole")] / DECIDED
    assert alike < 0, "nothing else weighs beside it"
    batch, onset = flicks()
    assert seen.carried_to(lambda few: everything(few, batch, onset)).shape.n_average == 6
    forbidden = choice.choose(start, at_rim=lambda _: -1.0, averages=lambda _: 6)
    assert forbidden.shape.name == "one_pole"


def test_a_gain_that_a_few_flicks_make_is_not_the_electronics(monkeypatch: pytest.MonkeyPatch) -> None:
    found = chosen("average")
    average, alone = found.best, found.one_pole
    assert choice._flick_by_flick(average, alone)
    by_two = alone.fit.objective.copy()
    by_two[:2] -= 500.0
    few = replace(average, fit=replace(average.fit, objective=by_two), total=alone.total - 1000.0)
    assert not choice._flick_by_flick(few, alone)
    monkeypatch.setattr(choice, "AGREED", 0.0)
    assert choice._flick_by_flick(few, alone)


def test_a_candidate_that_delays_hardly_more_than_one_pole_gives_way_to_it() -> None:
    few = chosen("average")
    assert choice._clearly_better(few.best, few.one_pole)
    more_s = float(np.median(choice.smoothing_delay_s(few.best) - choice.smoothing_delay_s(few.one_pole)))
    # The one pole as much longer as leaves half of what a yielding thumb may add.
    longer = few.one_pole.fit.tau_s + more_s - 0.5 * YIELDS_S
    alike = replace(few.one_pole, fit=replace(few.one_pole.fit, tau_s=longer))
    assert not choice._clearly_better(few.best, alike)


def test_a_candidate_counts_by_whether_the_rim_allows_it_and_by_the_sticks_that_stop(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    few = chosen("average")
    average, alone = few.best, few.one_pole
    pair = next(found for found in few.tried if found.fit.shape.name == "two_pole")
    as_good = replace(pair, total=average.total + 50.0, fit=replace(pair.fit, objective=average.fit.objective))
    monkeypatch.setattr(choice, "refined", lambda found, *_: found)
    monkeypatch.setattr(choice, "_two_poles", lambda _: as_good)
    monkeypatch.setattr(choice, "_average", lambda _: average)
    assert choice.choose(alone, lambda _: -1.0).best is alone
    assert choice.choose(alone, lambda _: 0.5).best is average
    assert choice.choose(alone, lambda found: float(found is as_good)).best is as_good


def test_what_other_evidence_says_against_a_candidate_keeps_one_pole(monkeypatch: pytest.MonkeyPatch) -> None:
    few = chosen("average")
    average, alone = few.best, few.one_pole
    monkeypatch.setattr(choice, "_two_poles", lambda _: alone)
    monkeypatch.setattr(choice, "_average", lambda _: average)
    gain = (alone.total - average.total) / CORRELATION
    assert choice.choose(alone, against=lambda others, _: [gain - CLEAR - 1.0] * len(others)).best.fit is average.fit
    kept = choice.choose(alone, against=lambda others, _: [gain - CLEAR + 1.0] * len(others))
    assert kept.best is alone
    assert kept.gains[-1] == pytest.approx(1.0 - CLEAR), "it still fits better by that"


def test_fits_begun_beside_the_best_end_no_better_and_are_remembered() -> None:
    found = fitted()
    assert len(found.rivals) == len(BESIDE)
    assert all(worse >= 0 for _, worse in found.rivals)
    np.testing.assert_allclose(found.fit.tau_s[:, 0], 0.006, rtol=0.04)


def test_local_optima_that_fit_as_well_count_as_doubt() -> None:
    best = chosen().best
    twice = replace(best, rivals=((np.full(4, 2.0), 0.0),))
    far = replace(best, rivals=((np.full(4, 2.0), 1000.0),))
    assert replace(chosen(), best=twice).rim_spread(0) == pytest.approx(np.log(2.0) / np.sqrt(2.0))
    assert replace(chosen(), best=far).rim_spread(0) < 1e-6


def test_the_usual_component_is_that_of_the_flick_most_like_the_others() -> None:
    rim = rim_of(RIM_PRIORS[0], 5)
    rim = replace(rim, outward=np.outer([9.0, 1.0, 2.0, 3.0, -9.0], np.ones(rim.outward.shape[1])))
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


def wall(low_s: float = 0.0, high_s: float = np.inf) -> Wall:
    every = np.full(4, 1.0)
    brackets = StickBrackets(
        family=ONE_POLE,
        low_s=low_s * every,
        high_s=high_s * every,
        middle_s=every,
        trails=every < 0,
        n=np.full(4, 6),
        stopped=np.full(12, low_s > 0),
    )
    found = Wall(flicks=None, brackets=brackets, one_pole=brackets, stopped=brackets.stopped)  # type: ignore[arg-type]
    found.__dict__["stops"] = np.full(4, low_s > 0)
    return found


def delay_u(scatter_s: float = 0.0, against: Wall | None = None, found: Chosen | None = None) -> float:
    pool = pooling._pooled(found or chosen(), 0, scatter_s, against or wall(), NOTHING_RELEASED, both=True)
    return pooling._relative_u(pool.tau_s, pool.covariance)


@pytest.mark.parametrize("name", ["SYSTEMATIC", "SYSTEMATIC_S", "SYSTEMATIC_PER_S", "UNSEEN_GIVE", "SHORT_U_S"])
def test_each_part_of_the_floor_counts(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = delay_u()
    room = pooling if name == "SHORT_U_S" else doubts
    monkeypatch.setattr(room, name, vars(room)[name].like(0.0))
    assert delay_u() < whole * (1 - 1e-6)


def test_a_rim_that_gives_unseen_moves_a_response_by_its_share_of_the_time_across() -> None:
    found, pole_s = chosen().best, float(chosen().delay_s[0])
    floor = UNSEEN_GIVE * doubts._crossing_s(found, 0) / pole_s
    assert delay_u() > floor
    # Flicks of some 50 ms that end at one to two and a half times their mean speed cross in 20 to 50 ms.
    assert 0.015 < doubts._crossing_s(found, 0) < 0.06


def test_a_response_that_a_stepped_filter_could_make_counts_both_of_its_delays() -> None:
    found = chosen()
    for tau_s, doubt in ((3.476e-3, True), (5.0e-3, False)):
        other = replace(
            found.best, fit=replace(found.best.fit, tau_s=np.array([[tau_s], [0.9e-3], [0.9e-3], [0.9e-3]]))
        )
        pool = pooling._pooled(replace(found, best=other), 0, 0.0, wall(), NOTHING_RELEASED, both=True)
        assert (pool.u_steps_s > 0.0) == doubt


def test_a_named_filter_counts_half_the_distance_of_its_two_numbers() -> None:
    found, interval_s = chosen(), chosen().best.batch.interval_s
    pole_s = -interval_s / np.log(1.0 - 2.0**-3)
    named = replace(found, best=replace(found.best, fit=replace(found.best.fit, tau_s=np.full((4, 1), pole_s))))
    said = pooling.pool_direction(named, 0, "x", "rising", wall(0.001, 0.015), both=True)
    assert said.model == "recursive"
    delay = said.smoothing_delay
    less_s, u_s = recursive_delay_s(3, interval_s)
    assert delay.value == pytest.approx(pole_s - less_s)
    pool = pooling._pooled(named, 0, 0.0, wall(0.001, 0.015), NOTHING_RELEASED, both=True)
    without = pooling._of_poles(
        replace(pool, u_steps_s=0.0),
        "smoothing_delay",
        lambda tau: float(tau.sum()) + pool.average_s,
        pool.delay_spread,
    )
    assert delay.u is not None
    assert without.u is not None
    assert delay.u**2 - without.u**2 == pytest.approx(u_s**2, rel=1e-6)


@pytest.mark.parametrize(("quick", "model"), [(3.5, "pole_recursive"), (2.4, "two_pole")])
def test_a_filter_in_steps_behind_a_pole_is_named_and_gives_half_of_its_two_numbers(
    quick: float, model: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pooling, "shared_covariances", lambda *_: (1e-4 * np.eye(8), 1e-4 * np.eye(8)))
    found, interval_s = chosen(), chosen().best.batch.interval_s
    two = next(one for one in found.tried if one.fit.shape.name == "two_pole")
    poles_s = interval_s * np.array([[7.0, quick], [quick, 7.1], [6.9, quick], [7.0, quick]])
    said = replace(found, best=replace(two, fit=replace(two.fit, tau_s=poles_s)))
    pool = pooling._pooled(said, 1, 0.0, wall(0.001, 0.02), NOTHING_RELEASED, both=True)
    less_s, u_s = recursive_delay_s(2, interval_s) if model == "pole_recursive" else (0.0, 0.0)
    assert pool.average_s == pytest.approx(-less_s)
    assert pool.u_steps_s == u_s
    assert pooling._model_name(said) == model


def test_a_stick_that_was_not_seen_to_stop_gives_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    seen, unseen = wall(0.001, 0.015), wall(0.0, 0.015)
    monkeypatch.setattr(Wall, "longest_s", np.full(4, 0.015))
    monkeypatch.setattr(pooling, "STOP_SHOWS_S", 0.0)
    assert pooling.pool_direction(chosen(), 0, "x", "rising", seen, both=True).smoothing_delay.status == "ok"
    limit = pooling.pool_direction(chosen(), 0, "x", "rising", unseen, both=True).smoothing_delay
    assert limit.status == "at_most"
    assert limit.caveats[0].code == "soft_stop"


def test_stamps_that_scatter_and_parts_that_disagree_count(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = delay_u()
    assert delay_u(scatter_s=1e-4) == pytest.approx(np.hypot(whole, 2e-4 / float(chosen().delay_s[0])), rel=1e-6)
    monkeypatch.setattr(pooling, "disagreement_u", lambda *_: 0.05)
    assert delay_u() > 0.05


def test_the_uncertainty_is_no_larger_than_the_rim_allows() -> None:
    decided = replace(chosen(), gains=tuple(DECIDED + 1.0 for _ in chosen().gains))
    pool = pooling._pooled(decided, 0, 0.0, wall(0.00599, 0.00601), NOTHING_RELEASED, both=True)
    whole = np.hypot(pooling._relative_u(pool.tau_s, pool.covariance), pool.delay_spread)
    assert whole == pytest.approx(np.log(601 / 599) / BRACKET_SDS, rel=1e-6)


def test_what_another_family_may_be_is_not_cut_off_by_the_bracket_of_the_chosen_one() -> None:
    as_good = replace(chosen(), gains=tuple(0.0 for _ in chosen().gains))
    longest_s = as_good.longest_other_s(0)
    assert longest_s > 0.00601
    pool = pooling._pooled(as_good, 0, 0.0, wall(0.00599, 0.00601), NOTHING_RELEASED, both=True)
    whole = np.hypot(pooling._relative_u(pool.tau_s, pool.covariance), pool.delay_spread)
    assert whole > np.log(601 / 599) / BRACKET_SDS * 1.5
    assert replace(as_good, gains=tuple(DECIDED + 1.0 for _ in chosen().gains)).longest_other_s(0) == 0.0


def test_a_stop_that_the_rim_shows_is_not_called_soft() -> None:
    braked = replace(chosen(), best=slowed(chosen().best, 0.05))
    assert delay_u(found=braked) > delay_u(against=wall(0.001), found=braked)
