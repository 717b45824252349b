"""The way back as evidence: what it says of the response, what makes it unsure, when it says nothing."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.hand.gate_stop import agreement
from feelcheck.hand.gate_stop import released as room
from feelcheck.hand.gate_stop.agreement import APART, joined
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.numbers import GRANTED_RETURN, LEAST_MISFIT, LET_GO_S, MISFIT_SHARE, RETURN_WORTH
from feelcheck.hand.gate_stop.released import NOTHING_RELEASED, SCATTER, Released
from feelcheck.hand.returns import SpringReturn
from feelcheck.model import FloatArray
from feelcheck.numerics.return_behind import Behind

OMEGA, ZETA, STEP_S = 2 * math.pi * 18.0, 0.25, 5e-5
TAU_S = 0.006


def stepped(acceleration: Callable[[float, float, float], float], tau_s: float = TAU_S) -> FloatArray:
    """A unit mass let go at 0, small steps, then one pole: shape (2, n), instants from -50 ms on and readings."""
    t_s = np.arange(-0.05, 0.3, STEP_S)
    place, speed, level, out = 1.0, 0.0, 1.0, []
    for now_s in t_s.tolist():
        if now_s >= 0.0:
            speed += STEP_S * acceleration(now_s, place, speed)
            place += STEP_S * speed
        level += -math.expm1(-STEP_S / tau_s) * (place - level)
        out.append(level)
    return np.array([t_s, out])


def spring(_: float, place: float, speed: float) -> float:
    return -(OMEGA**2) * place - 2 * ZETA * OMEGA * speed


def rubbing(now_s: float, place: float, speed: float) -> float:
    return spring(now_s, place, speed) - 0.01 * OMEGA**2 * math.copysign(1.0, speed if speed else place)


def lingering(now_s: float, place: float, speed: float) -> float:
    """A thumb that slides off within 12 ms."""
    return spring(now_s, place, speed) + OMEGA**2 * max(1.0 - now_s / 0.012, 0.0)


def returns(path: FloatArray, n: int = 4, spread: float = 0.0) -> list[SpringReturn]:
    """Logged at 1 kHz with a little noise, each at another phase; `spread` makes them differ in speed."""
    rng, found = np.random.default_rng(3), []
    for k in range(n):
        at_s = np.arange(-0.045 + rng.uniform(0, 0.001), 0.29, 0.001)
        y = np.interp(at_s * (1 + spread * (-1) ** k), *path) + 2e-4 * rng.standard_normal(at_s.size)
        half_s = float(at_s[np.argmax(y < 0.5)])
        found.append(
            SpringReturn(
                axis="x", direction="falling", half_s=half_s, since_s=at_s - half_s, y=y, travel_fs=0.7, grain=5e-4
            )
        )
    return found


def said(path: FloatArray, thought_s: float = TAU_S, **more: Any) -> tuple[float, float, float, float]:
    behind = Behind(poles_s=(thought_s,))
    return room._of_direction(room._fits(returns(path, **more), behind, None), behind)


def test_a_ringing_return_tells_the_response_without_the_rim() -> None:
    log_ratio, scatter, misfit, late = said(stepped(spring), thought_s=0.009)
    assert log_ratio == pytest.approx(math.log(6 / 9), abs=0.02)
    assert scatter < 0.01
    assert misfit < 0.05
    assert late == pytest.approx(0.5 * (LET_GO_S / TAU_S) ** 2, rel=0.05), "of what is seen"


@pytest.mark.parametrize("law", [rubbing, lingering])
def test_what_is_not_quite_a_spring_s_way_is_as_unsure_as_it_is_wrong(law: Any) -> None:
    log_ratio, scatter, misfit, _ = said(stepped(law))
    assert abs(log_ratio) > 0.05
    assert math.hypot(scatter, misfit) > 0.5 * abs(log_ratio)
    assert misfit > 3 * said(stepped(spring))[2]


def test_the_misfit_has_a_least_size_and_its_share(monkeypatch: pytest.MonkeyPatch) -> None:
    behind = Behind(poles_s=(TAU_S,))
    own = room._fits(returns(stepped(spring)), behind, None)
    monkeypatch.setattr(room, "_structure", lambda _: 0.0)
    least = room._of_direction(own, behind)[2]
    monkeypatch.setattr(room, "_structure", lambda _: 4.0 * LEAST_MISFIT)
    assert room._of_direction(own, behind)[2] == pytest.approx(math.sqrt(17.0) * least)
    monkeypatch.setattr(room, "MISFIT_SHARE", 3.0 * MISFIT_SHARE)
    assert room._of_direction(own, behind)[2] == pytest.approx(3 * math.sqrt(17.0) * least)


def test_returns_that_differ_scatter() -> None:
    path = stepped(spring)
    logs = [said(path, n=4, spread=spread)[1] for spread in (0.0, 0.05)]
    assert logs[1] > 3 * logs[0]


@pytest.mark.parametrize("damping", [0.95, 1.5])
def test_a_return_that_does_not_ring_says_nothing(damping: float) -> None:
    def damped(_: float, place: float, speed: float) -> float:
        return -(OMEGA**2) * place - 2 * damping * OMEGA * speed

    assert math.isnan(said(stepped(damped))[0])


def test_few_ages_stand_for_a_long_average() -> None:
    whole, few = 1e-3 * np.arange(16), np.array(room._lags_s(16, 1e-3))
    assert few.size == room.MOST_LAGS
    assert few.mean() == pytest.approx(whole.mean())
    assert few.var() == pytest.approx(whole.var())
    assert room._lags_s(1, 1e-3) == (0.0,)
    np.testing.assert_allclose(room._lags_s(3, 1e-3), [0.0, 1e-3, 2e-3], atol=1e-12)


def fit_at_rim(poles_s: tuple[float, ...], n_average: int = 1) -> Any:
    """A fit at the rim of x alone that came to these poles, in both directions."""
    shape = ResponseShape(n_poles=len(poles_s), n_average=n_average)
    fit = SimpleNamespace(tau_s=np.tile(poles_s, (4, 1)), shape=shape)
    used = {0: np.arange(3), 1: np.arange(3), 2: np.arange(0), 3: np.arange(0)}
    return SimpleNamespace(fit=fit, batch=SimpleNamespace(used_rows=used.get, interval_s=0.001))


def test_ways_back_speak_against_what_explains_them_worse_than_one_pole() -> None:
    own, alone = returns(stepped(spring), n=3), fit_at_rim((TAU_S,))
    assert room.against([fit_at_rim((0.002,), 12)], alone, own, ("x", ""))[0] > 50.0
    assert room.against([alone], alone, own, ("x", ""))[0] == 0.0
    assert room.against([fit_at_rim((TAU_S, 2e-5))], alone, own, ("x", ""))[0] < 1.0, "as good as one pole"


def test_ways_back_never_speak_for_more_than_one_pole() -> None:
    slow, quick = stepped(spring), 0.004
    twice = slow[1].copy()
    for k in range(1, twice.size):
        twice[k] = twice[k - 1] - math.expm1(-STEP_S / quick) * (slow[1][k] - twice[k - 1])
    own, right = returns(np.array([slow[0], twice]), n=3), fit_at_rim((TAU_S, quick))
    assert room.against([right], fit_at_rim((0.008,)), own, ("x", ""))[0] == 0.0
    assert room.against([right], fit_at_rim((0.008,)), [], ("x", ""))[0] == 0.0, "nor do none at all"


def test_ways_back_that_one_pole_leaves_much_of_hold_no_candidates_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    left = {1: 0.001, 2: 0.02}
    monkeypatch.setattr(room, "_left", lambda found, *_: (left[found.fit.shape.n_poles], None))
    pair, alone = fit_at_rim((TAU_S, 0.002)), fit_at_rim((TAU_S,))
    grant = GRANTED_RETURN**2
    expected = RETURN_WORTH * math.log((0.02**2 + grant) / (0.001**2 + grant))
    assert room.against([pair], alone, [], ("x", ""))[0] == pytest.approx(expected)
    left[1] = 0.004
    assert room.against([pair], alone, [], ("x", ""))[0] == 0.0


def told(log_ratio: float, scatter: float = 0.0, misfit: float = 0.0, late: float = 0.0) -> Released:
    every = [np.full(4, value) for value in (log_ratio, scatter, misfit, late)]
    return Released(log_ratio=every[0], u_scatter=every[1], u_misfit=every[2], u_late=every[3])


@pytest.fixture
def nobody_leads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(agreement, "LED", 0.0)


def both(returns: Released, u_rim: float = 0.04) -> Any:
    return joined(np.array([TAU_S]), TAU_S, {"rim": u_rim**2 * np.eye(1)}, returns, 0)


def u_of(found: Any, words: str) -> float:
    return math.sqrt(float(found.covariances[words][0, 0]))


@pytest.mark.usefixtures("nobody_leads")
def test_rim_and_way_back_are_weighed_by_their_variances() -> None:
    found = both(told(0.05, scatter=0.03))
    weight = 0.04**2 / (0.04**2 + 0.03**2)
    assert math.log(found.scale) == pytest.approx(0.05 * weight)
    assert u_of(found, "rim") == pytest.approx((1 - weight) * 0.04)
    assert u_of(found, SCATTER) == pytest.approx(weight * 0.03)
    whole = math.hypot(*(u_of(found, words) for words in found.covariances))
    assert whole == pytest.approx(0.04 * 0.03 / 0.05), "as of any weighted mean"


@pytest.mark.usefixtures("nobody_leads")
def test_every_term_of_the_way_back_counts() -> None:
    for words, more in (
        (SCATTER, {"scatter": 0.08}),
        (MISFIT_SHARE.sets, {"misfit": 0.08}),
        (LET_GO_S.sets, {"late": 0.08}),
    ):
        found = both(told(0.01, **more))
        assert u_of(found, str(words)) == pytest.approx(0.08 * 0.04**2 / (0.04**2 + 0.08**2))


def test_a_lingering_thumb_excuses_a_longer_way_back_only() -> None:
    longer, shorter = both(told(0.2, scatter=0.01, late=0.3)), both(told(-0.2, scatter=0.01, late=0.3))
    assert math.log(longer.scale) < 0.01
    assert math.log(shorter.scale) < -0.15


@pytest.mark.usefixtures("nobody_leads")
def test_what_rim_and_way_back_disagree_by_is_half_of_it_doubt() -> None:
    found = both(told(0.3, scatter=0.03))
    excess = 0.3**2 - 2 * (0.04**2 + 0.03**2)
    assert u_of(found, APART) == pytest.approx(0.5 * math.sqrt(excess))
    assert not found.confirmed
    within = both(told(0.05, scatter=0.03))
    assert u_of(within, APART) == 0.0
    assert within.confirmed
    assert not both(told(0.05, scatter=0.2)).confirmed, "not sure by itself"


def test_a_way_back_much_longer_was_led_by_a_thumb_and_says_nothing_against_the_rim() -> None:
    led = both(told(1.2, scatter=0.01))
    assert math.log(led.scale) < 0.01
    assert u_of(led, APART) < 0.01
    assert not led.confirmed
    shorter = both(told(-1.2, scatter=0.01))
    assert u_of(shorter, APART) > 0.5, "nothing makes it shorter"
    assert u_of(both(told(0.2, scatter=0.01)), APART) > 0.05, "another family of responses may be as far off"


def test_who_leads_the_stick_back_in_most_directions_led_it_in_the_others() -> None:
    most = replace(told(1.2, scatter=0.01), log_ratio=np.array([0.3, 1.2, 1.2, np.nan]))
    assert u_of(both(most), APART) < 0.02 < u_of(both(told(0.3, scatter=0.01)), APART)


@pytest.mark.parametrize("scale", [0.5, 1.0, 3.0])
def test_a_thumb_that_lets_go_stretches_what_is_seen_by_its_share_of_that(scale: float) -> None:
    u = room._late_u(Behind(poles_s=(TAU_S,)), scale)
    seen_s2 = (scale * TAU_S) ** 2
    assert u == pytest.approx(0.5 * math.log(seen_s2 / (seen_s2 - LET_GO_S**2)))


def test_a_way_back_limits_the_response_from_above_whatever_a_thumb_adds() -> None:
    found = both(told(-1.0, scatter=0.03, misfit=0.04, late=0.4))
    assert found.longest_s == pytest.approx(1.25 * TAU_S * math.exp(-1.0 + 2 * 0.05))
    assert both(NOTHING_RELEASED).longest_s == math.inf
    assert both(told(0.0, misfit=1e3)).longest_s > 1.0, "nothing is limited by what knows nothing"


def test_without_a_return_the_rim_stands_alone() -> None:
    found = both(NOTHING_RELEASED)
    assert found.scale == 1.0
    assert u_of(found, "rim") == pytest.approx(0.04)
    assert not found.confirmed


def test_the_split_of_two_poles_stays_as_unsure_while_their_sum_becomes_surer() -> None:
    tau_s, covariance = np.array([0.006, 0.003]), np.diag([0.2**2, 0.4**2])
    found = joined(tau_s, 0.009, {"rim": covariance}, told(0.0, scatter=0.02), 0)
    total = sum(found.covariances.values())
    share, apart = tau_s / 0.009, np.array([1.0, -1.0])
    assert math.sqrt(share @ total @ share) < 0.021
    assert apart @ total @ apart == pytest.approx(apart @ covariance @ apart)
