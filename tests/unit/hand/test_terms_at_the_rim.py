"""Every term of the uncertainty of what is read from stops at the rim is missed where it is gone: closed forms."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from functools import partial
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.hand.gate_stop import doubts, metric, pooling, rim_check
from feelcheck.hand.gate_stop.agreement import _excess
from feelcheck.hand.gate_stop.choice import Chosen, weighted_spread
from feelcheck.hand.gate_stop.contacts import Contacts
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.numbers import CLEAR, INDIFFERENT, LEAST_BOUND_INTERVALS, SPLIT
from feelcheck.hand.gate_stop.recursive import recursive_delay_s, undecided_u_s
from feelcheck.hand.gate_stop.released import NOTHING_RELEASED, Released
from feelcheck.hand.gate_stop.remarks import AMBIGUOUS, BETWEEN
from feelcheck.hand.gate_stop.rim_check import FAMILIES, Wall
from feelcheck.hand.gate_stop.speed import SpeedLaw, _regress
from feelcheck.model import Estimate

NOTHING: Any = None
TAU_S = 0.008


def chosen(tau_s: float = TAU_S, rim: float = 0.0, spread: float = 0.0, between: float = 0.0) -> Any:
    """One pole in four directions, nine flicks each, whose rivals at the rim and beside it spread by so much."""
    batch = SimpleNamespace(used_rows=lambda g: np.arange(9), interval_s=0.001, n_flicks=36)
    fit = SimpleNamespace(tau_s=np.full((4, 1), tau_s))
    return SimpleNamespace(
        best=SimpleNamespace(fit=fit, batch=batch),
        shape=SimpleNamespace(n_poles=1, n_average=1, name="one_pole"),
        delay_s=np.full(4, tau_s),
        delay_ratios="delay",
        tau_ratios="tau",
        rim_spread=lambda g: rim,
        spread=lambda ratios, g: spread,
        delay_spread=lambda g: spread,
        between=between,
        longest_other_s=lambda g: 0.0,
    )


WALL: Any = SimpleNamespace(held_s=0.0, stops=[False] * 4, relative_u=lambda *_: 10.0, longest_s=np.full(4, 1.0))
TERMS = ("rim_terms", "softness_u", "disagreement_u", "residual_terms", "undecided_u_s")


def _constant(value: Any, *_: object) -> Any:
    return value


def pooled(
    monkeypatch: pytest.MonkeyPatch,
    own: float = 0.0,
    tau_s: float = TAU_S,
    returns: Any = NOTHING_RELEASED,
    **more: float,
) -> Any:
    """What is made of a fit whose own covariance and whose doubts are these and nothing else."""
    zero = np.zeros((4, 4))
    monkeypatch.setattr(pooling, "shared_covariances", lambda *_: (zero, own**2 * np.eye(4)))
    monkeypatch.setattr(pooling, "_recursive_order", lambda *_: None)
    for name in TERMS:
        u = more.get(name, 0.0)
        monkeypatch.setattr(
            pooling, name, partial(_constant, {name: u} if name in ("rim_terms", "residual_terms") else u)
        )
    fit = chosen(
        tau_s, rim=more.get("rim_spread", 0.0), spread=more.get("spread", 0.0), between=more.get("between", 0.0)
    )
    return pooling._pooled(fit, 0, 0.0, WALL, returns, both=True)


def relative_u(pool: Any) -> float:
    return math.sqrt(float(pool.covariance[0, 0]))


LEAST = 0.0002 / TAU_S
"""A yielding thumb, in every response."""


@pytest.mark.parametrize("name", ["own", "rim_terms", "softness_u", "disagreement_u", "residual_terms", "rim_spread"])
def test_every_term_of_a_pole_counts(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert relative_u(pooled(monkeypatch)) == pytest.approx(LEAST)
    assert relative_u(pooled(monkeypatch, **{name: 0.05})) == pytest.approx(math.hypot(LEAST, 0.05))


def test_the_other_candidates_and_an_undecided_filter_count_in_a_delay(monkeypatch: pytest.MonkeyPatch) -> None:
    def delay_u(**terms: float) -> float:
        pool = pooled(monkeypatch, **terms)
        estimate = pooling._of_poles(pool, "smoothing_delay", lambda tau: float(tau.sum()), pool.delay_spread)
        return float(estimate.u or 0.0)

    least = LEAST * TAU_S
    assert delay_u() == pytest.approx(least)
    assert delay_u(spread=0.05) == pytest.approx(math.hypot(least, 0.05 * TAU_S))
    assert delay_u(undecided_u_s=2e-4) == pytest.approx(math.hypot(least, 2e-4))
    with_average = replace(pooled(monkeypatch), average_s=2e-3)
    found = pooling._of_poles(with_average, "smoothing_delay", lambda tau: float(tau.sum()) + 2e-3, 0.0)
    assert found.u == pytest.approx(math.hypot(least, 0.01 * 2e-3 + 0.02 * 1e-3))


def test_a_delay_shared_out_is_less_sure_than_its_sum(monkeypatch: pytest.MonkeyPatch) -> None:
    pool = replace(pooled(monkeypatch), average_s=TAU_S, tau_spread=0.1)
    split = SPLIT * 0.5
    averages = 0.01 * TAU_S + 0.02 * 1e-3
    expected = math.hypot(LEAST * TAU_S, math.hypot(0.1, split) * TAU_S, averages)
    assert pooling._pole(pool, 0).u == pytest.approx(expected)


def test_an_upper_limit_holds_candidates_and_a_yielding_thumb(monkeypatch: pytest.MonkeyPatch) -> None:
    bare, spread = (pooled(monkeypatch, own=0.1, spread=more).bound_s for more in (0.0, 0.1))
    t = 2.3060041
    assert bare == pytest.approx(TAU_S + math.hypot(TAU_S * math.expm1(t * 0.1), t * 0.0002))
    assert spread > TAU_S * math.exp(t * 0.141)


def test_a_way_back_that_disagrees_widens_the_upper_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    alone = pooled(monkeypatch, own=0.1).bound_s
    every = (np.full(4, value) for value in (0.25, 0.02, 0.02, 0.0))
    back = Released(**dict(zip(("log_ratio", "u_scatter", "u_misfit", "u_late"), every, strict=True)))
    assert pooled(monkeypatch, own=0.1, returns=back).bound_s > alone
    assert pooled(monkeypatch, own=0.1).bound_s == alone


def test_values_held_over_reports_count_as_the_interval_and_as_a_later_rim(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules[__name__], "WALL", SimpleNamespace(**{**vars(WALL), "held_s": 0.006}))
    assert pooled(monkeypatch).interval_s == 0.006
    known: Any = SimpleNamespace(family=FAMILIES[1], high_s=np.array([0.01, 0.015, 0.02, 0.03]))
    monkeypatch.setattr(rim_check, "rim_brackets", lambda *_: known)
    walls = (Wall(flicks=NOTHING, brackets=known, one_pole=known, stopped=NOTHING, held_s=s) for s in (0.0, 0.006))
    free, held = (wall.longest_s for wall in walls)
    np.testing.assert_allclose(held - free, 0.006)


@pytest.mark.parametrize("stops", [True, False])
def test_sticks_not_seen_to_stop_limit_nothing_by_their_fit(monkeypatch: pytest.MonkeyPatch, *, stops: bool) -> None:
    brackets = SimpleNamespace(trails=[False] * 4, holds=lambda *_: True)
    wall: Any = SimpleNamespace(
        **{**vars(WALL), "brackets": brackets, "stops": [stops] * 4, "longest_s": np.full(4, 0.006)}
    )
    short = pooled(monkeypatch, own=0.1, tau_s=0.0005)
    monkeypatch.setattr(pooling, "speed_law", lambda *_: SpeedLaw())
    monkeypatch.setattr(pooling, "creeps_on", lambda *_: False)
    monkeypatch.setattr(pooling, "_pooled", lambda *_, **__: short)
    said = pooling.pool_direction(chosen(0.0005), 0, "x", "rising", wall, both=True)
    assert said.smoothing_delay.bound == pytest.approx(short.bound_s if stops else 0.006)


def test_a_transition_has_half_of_what_the_candidates_delays_differ_by(monkeypatch: pytest.MonkeyPatch) -> None:
    pool = pooled(monkeypatch, spread=0.08)
    brackets = SimpleNamespace(trails=[False] * 4, holds=lambda *_: True)
    wall: Any = SimpleNamespace(**{**vars(WALL), "brackets": brackets, "stops": [True] * 4})
    monkeypatch.setattr(pooling, "speed_law", lambda *_: SpeedLaw())
    monkeypatch.setattr(pooling, "creeps_on", lambda *_: False)
    monkeypatch.setattr(pooling, "_pooled", lambda *_, **__: pool)
    found = pooling.pool_direction(chosen(), 0, "x", "rising", wall, both=True).findings
    told = {finding.estimate.quantity: finding.estimate for finding in found}
    for name, share in (("transition_10_90", 0.5), ("smoothing_delay", 1.0)):
        least = LEAST * (told[name].value or 0.0)
        assert told[name].u == pytest.approx(math.hypot(least, share * pool.delay_spread * (told[name].value or 0.0)))
    assert told["transition_10_90"].value == pytest.approx(math.log(9) * TAU_S)


def limit(bound_s: float, pool: Any) -> float | None:
    return pooling._limited(pool, "x", "rising", bound_s, AMBIGUOUS).smoothing_delay.bound


def test_no_limit_is_shorter_than_a_report_or_longer_than_anything_it_might_limit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pool = pooled(monkeypatch)
    assert limit(1e-5, pool) == pytest.approx(LEAST_BOUND_INTERVALS * 0.001)
    assert limit(0.02, pool) == 0.02
    assert limit(0.1, pool) is None, "ten times what was fitted"
    assert limit(0.6, replace(pool, tau_s=np.array([0.2]))) is None


def test_a_pole_that_an_average_hides_is_limited_by_its_interval_and_by_the_whole_delay(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pool = pooled(monkeypatch)

    def of(pole_s: float, u_s: float, delay_s: float) -> Estimate:
        pole, delay = (
            Estimate.measured(name, value, u=u, unit="s", n=9, dof=8, scale="log")
            for name, value, u in (("pole", pole_s, u_s), ("smoothing_delay", delay_s, 0.01 * delay_s))
        )
        return pooling._time_constant(pool, pole, delay)

    t = 2.3060041
    assert of(0.008, 0.0008, 0.01).value == 0.008
    assert of(0.003, 0.0015, 0.1).bound == pytest.approx(0.003 * math.exp(t * 0.5))
    assert of(0.0001, 0.00001, 0.1).bound == pytest.approx(LEAST_BOUND_INTERVALS * 0.001)
    assert of(0.003, 0.0015, 0.005).bound == pytest.approx(0.005 * math.exp(t * 0.01))
    assert of(0.0015, 0.00045, 0.1).bound is not None, "within two reports it must be surer"
    assert of(0.0045, 0.00135, 0.1).value == 0.0045


def test_smoothing_that_grows_as_the_stick_slows_is_at_least_the_fit_s_lower_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pool = pooled(monkeypatch, own=0.1)
    found = pooling._changing(pool, "x", "rising", memory_s=0.02).findings
    ends = {finding.estimate.quantity: finding.estimate for finding in found}
    least = TAU_S * math.exp(-2.3060041 * math.hypot(0.1, LEAST))
    assert ends["time_constant_fast_flicks"].bound == pytest.approx(least)
    assert ends["time_constant_at_rest"].value == 0.02


def rim_u(
    monkeypatch: pytest.MonkeyPatch, tau_s: float, crossing_s: float = 0.0, give: float = 0.0, **more: Any
) -> float:
    monkeypatch.setattr(doubts, "_crossing_s", lambda *_: crossing_s)
    monkeypatch.setattr(doubts, "_give_u", lambda *_: give)
    return math.hypot(*doubts.rim_terms(chosen(tau_s), 0, more.get("scatter_s", 0.0)).values())


def test_every_doubt_about_the_rim_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """0.7 %; the square of 0.3 ms over the pole; 0.15 a second of it; give unseen, give seen, stamps."""
    base = math.hypot(0.007, (0.3 / 8.0) ** 2, 0.15 * 0.008)
    assert rim_u(monkeypatch, 0.008) == pytest.approx(base)
    assert rim_u(monkeypatch, 0.008, crossing_s=0.1) == pytest.approx(math.hypot(base, 0.004 * 0.1 / 0.008))
    assert rim_u(monkeypatch, 0.008, give=0.03) == pytest.approx(math.hypot(base, 0.03))
    assert rim_u(monkeypatch, 0.008, scatter_s=1e-4) == pytest.approx(math.hypot(base, 2 * 1e-4 / 0.008))
    assert rim_u(monkeypatch, 0.002) == pytest.approx(math.hypot(0.007, (0.3 / 2.0) ** 2, 0.15 * 0.002))
    assert rim_u(monkeypatch, 0.1) == pytest.approx(math.hypot(0.007, (0.3 / 100.0) ** 2, 0.015))


def test_candidates_spread_by_their_weight() -> None:
    """One that fits as well counts as much as the chosen one, one that fits far worse by the square of its gain."""
    assert weighted_spread([1.2], [0.0]) == pytest.approx(math.log(1.2) / math.sqrt(2))
    assert weighted_spread([1.2, 1.2], [0.0, 0.0]) == pytest.approx(math.log(1.2) * math.sqrt(2 / 3))
    assert weighted_spread([1.2], [1e3]) < 1e-9
    doubted = 0.16 / (1 + 100 / 50) ** 2
    assert weighted_spread([1.2], [100.0], doubt=0.16) == pytest.approx(
        math.log(1.2) * math.sqrt(doubted / (1 + doubted)), rel=1e-4
    )


def rivalled(*rivals: tuple[float, float], n_poles: int = 1, apart: float = 0.0) -> Chosen:
    """One pole of 8 ms in all directions as chosen, other candidates by ratio of the delay and gain.

    Every flick prefers them by as much, or one by that much more and the next by that much less.
    """
    batch = SimpleNamespace(used_rows=lambda g: np.arange(9 * (g < 2)), interval_s=0.001)

    def found(n_poles: int, objective: Any) -> Any:
        shape = ResponseShape(n_poles=n_poles)
        fit = SimpleNamespace(shape=shape, tau_s=np.full((4, 1), TAU_S), objective=objective)
        return SimpleNamespace(fit=fit, batch=batch)

    others = tuple(found(2, -1.0 + apart * (-1.0) ** np.arange(8)) for _ in rivals)
    return Chosen(
        best=found(n_poles, np.zeros(8)),
        tried=(found(1, np.zeros(8)), *others),
        names=("two_pole",) * len(rivals),
        delay_ratios=tuple(np.array([ratio, ratio, 9.0, 9.0]) for ratio, _ in rivals),
        gains=tuple(gain for _, gain in rivals),
    )


def test_between_likelier_candidates_that_add_what_a_thumb_may_the_middle_is_told() -> None:
    assert rivalled((1.1, -INDIFFERENT - CLEAR)).between == pytest.approx(0.5 * math.log(1.1))
    assert rivalled((1.1, -100.0)).between == pytest.approx(math.log(1.1) * 2 / 3), "and never more than that"
    assert rivalled((1.1, -INDIFFERENT - 0.5 * CLEAR)).between == pytest.approx(math.log(1.1) / 3)
    assert rivalled((1.1, -INDIFFERENT)).between == 0.0
    assert rivalled((1.14, -100.0)).between == 0.0, "more than a millisecond is no thumb's"
    assert rivalled((1.1, -100.0), n_poles=2).between == 0.0
    assert rivalled((1.1, -100.0), apart=5.0).between == 0.0, "flick by flick it is the thumb"
    assert rivalled((1.1, -90.0), (1.05, -90.0)).between == pytest.approx(math.log(1.1 * 1.05) * 2 / 5)


def test_what_is_between_two_candidates_spreads_to_both() -> None:
    away = 0.5 * math.log(1.1)
    assert weighted_spread([1.1], [0.0], centre=away) == pytest.approx(away)
    assert rivalled((1.1, -INDIFFERENT - CLEAR)).delay_spread(0) == pytest.approx(away)


def test_a_candidate_of_few_flicks_is_held_against_one_pole_in_all() -> None:
    """Where one pole grew by a twentieth from few flicks to all, half of what the other adds is there already."""
    few = rivalled((1.1, -INDIFFERENT - CLEAR))
    fit, batch = few.best.fit, few.best.batch
    longer: Any = SimpleNamespace(shape=fit.shape, objective=fit.objective, tau_s=1.05 * fit.tau_s)
    grown: Any = SimpleNamespace(fit=longer, batch=batch)
    assert replace(few, best=grown).between == pytest.approx(0.5 * math.log(1.1 / 1.05))


def test_the_delay_told_is_between_the_candidates_and_the_pole_is_that_of_the_fit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pool = pooled(monkeypatch, between=0.04)
    assert pool.delay_s == pytest.approx(TAU_S * math.exp(0.04))
    assert float(pool.tau_s[0]) == TAU_S
    assert pooling._of_models(pool, told=True) == (BETWEEN,)
    assert pooling._of_models(pooled(monkeypatch), told=True) == ()
    assert pooling._of_models(pooled(monkeypatch, between=0.04, spread=0.3), told=True) == (AMBIGUOUS,)
    monkeypatch.setattr(pooling, "_recursive_order", lambda *_: 3)
    named = pooling._pooled(chosen(between=0.04), 0, 0.0, WALL, NOTHING_RELEASED, both=True)
    assert named.between_s == 0.0, "a named filter leaves nothing between"


def test_a_filter_named_or_not_leaves_its_half_report_open() -> None:
    """The filter delays by 7 reports, a pole of the same decay by 1 / -ln(1 - 1/8) of them, 7.489."""
    half = 0.5 * (1 / -math.log(1 - 1 / 8) - 7) * 0.001
    assert recursive_delay_s(3, 0.001) == pytest.approx((half, half / 2))
    assert undecided_u_s([7.6], [0.05], 0.001) == pytest.approx(half)
    assert undecided_u_s([5.0], [0.05], 0.001) == 0.0


def contacts(**more: Any) -> Contacts:
    known: Any = {
        "contact_s": np.zeros(8), "group": np.zeros((8, 2), dtype=np.int64), "used": np.ones((8, 2), dtype=bool),
        "smoothing_s": np.full(4, 0.01), "rim_s": np.zeros(4), "shape_s": np.zeros(4), "moved_s": np.zeros((8, 1)),
        "smoothing_moved_s": np.zeros((4, 1)), "covariance": (np.eye(1), 0.25 * np.eye(1)), "report_t_s": np.zeros(3),
        "interval_s": 0.001, "creeps": False,
    }  # fmt: skip
    return Contacts(**{**known, **more})


def u_s(found: Contacts, *asked: Any, **more: Any) -> float:
    return math.hypot(*found.terms_s(*asked, **more).values())


def test_every_term_of_contact_and_smoothing_counts() -> None:
    flicks = [np.arange(8)]
    slow = 0.006 * 0.01
    assert u_s(contacts(), flicks, [0]) == pytest.approx(slow)
    moved = contacts(moved_s=np.full((8, 1), -3e-4), smoothing_moved_s=np.full((4, 1), 4e-4))
    assert u_s(moved, flicks, [0]) == pytest.approx(math.hypot(slow, 1e-4))
    assert u_s(moved, flicks, [0], smoothing=False) == pytest.approx(3e-4)
    rim = contacts(rim_s=np.full(4, 1e-4))
    assert u_s(rim, flicks, [0]) == pytest.approx(math.hypot(slow, 1e-4, 4e-4))
    assert u_s(rim, flicks, [0], smoothing=False) == pytest.approx(1e-4)
    assert u_s(contacts(shape_s=np.full(4, 2e-4)), flicks, [0], smoothing=False) == pytest.approx(2e-4)
    short = contacts(smoothing_s=np.full(4, 4e-4))
    hidden = LEAST_BOUND_INTERVALS * 0.001 - 4e-4
    assert u_s(short, flicks, [0]) == pytest.approx(math.hypot(0.006 * 4e-4, hidden))


def test_an_asymmetry_has_what_is_each_direction_s_own() -> None:
    def side(value_s: float, own: float) -> Any:
        delay = Estimate.measured("smoothing_delay", value_s, u=0.1 * value_s, unit="s", n=9, dof=8)
        return SimpleNamespace(smoothing_delay=delay, own_relative_u=own)

    results: Any = {("x", "rising"): side(0.004, 0.03), ("x", "falling"): side(0.008, 0.04)}
    found = metric._asymmetry("x", results).estimate
    assert (found.value, found.u) == pytest.approx((2.0, 2.0 * 0.05))
    assert found.dof == pytest.approx(0.05**4 / (0.03**4 / 8 + 0.04**4 / 8))


def test_what_a_pole_does_over_speed_is_a_straight_line_s_regression() -> None:
    x = np.linspace(-1.0, 1.0, 9)
    own = 0.4 * x + 0.02 * np.array([1, -1, 1, -1, 0, 1, -1, 1, -1])
    law = _regress(own, x, np.ones(9), 0.01)
    (slope, offset), covariance = np.polyfit(x, own, 1, cov=True)
    assert law.slow is not None
    low = float(np.percentile(x, 10))
    assert law.slow.value == pytest.approx(0.01 * math.exp(offset + slope * low), rel=1e-6)
    expected = math.sqrt(covariance[1, 1] + low**2 * covariance[0, 0])
    assert (law.slow.u or 0.0) / (law.slow.value or 1.0) == pytest.approx(expected, rel=1e-6)


def test_what_only_scatters_is_no_disagreement() -> None:
    """Two sides of three flicks: the square of what their means differ by, less twice its variance."""
    own, side = np.array([0.0, 0.1, 0.2, 1.0, 1.1, 1.2]), np.arange(6) < 3
    variance = 2 * np.var([0.0, 0.1, 0.2]) / 2
    assert _excess(own, np.ones(6), side) == pytest.approx(1.0 - 2 * variance)
