"""An average's length is seen from what undoing it wrongly leaves; nothing else looks like one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from feelcheck.hand.gate_stop import averaged
from feelcheck.hand.gate_stop.averaged import averaged_reports, ripples
from feelcheck.hand.gate_stop.even_flicks import EvenFlicks
from feelcheck.model import FloatArray

INTERVAL_S = 0.001
FINE = 20  # instants a report
Stop = Callable[[FloatArray, float], FloatArray]


def _hard(t: FloatArray, way: float) -> FloatArray:
    """The stick speeds up until the rim stops it."""
    return np.clip(t / way, 0.0, 1.0) ** 2


def _by_itself(t: FloatArray, way: float) -> FloatArray:
    """It slows down evenly."""
    u = np.clip(t / way, 0.0, 1.0)
    return u * (2.0 - u)


def _springs(t: FloatArray, way: float) -> FloatArray:
    """The rim throws it back by one per cent."""
    since = np.maximum(t - way, 0.0)
    return _hard(t, way) - 0.01 * np.abs(np.sin(since / 4.0)) * np.exp(-since / 15.0) * (t > way)


def flicks(stop: Stop, tau: float, n_average: int, *, second: float = 0.0, noise: float = 3e-4) -> EvenFlicks:
    """Return twelve flicks of 18 to 50 reports behind poles (reports) and an average, with rounded codes."""
    rng, n = np.random.default_rng(5), 150
    t = (np.arange(n * FINE) / FINE) - 60.0
    y = np.empty((12, 2, n))
    for f, way in enumerate(np.linspace(18.0, 50.0, 12)):
        path = stop(t + way + rng.uniform(0, 1), way)
        for pole in (tau, second):
            path = _behind(path, pole * FINE)
        reports = path[::FINE]
        kept = np.convolve(np.r_[np.zeros(n_average - 1), reports], np.ones(n_average) / n_average, "valid")
        y[f] = np.round(0.7 * kept / noise + rng.normal(0, 0.4, (2, n))) * noise
    end = np.full((12, 2), 0.7)
    group = np.tile([[0, 2], [1, 3], [0, 3], [1, 2]], (3, 1))
    return EvenFlicks(
        y=y, end=end, group=group, tells=np.ones((12, 2), bool), noise_fs=noise / 2, interval_s=INTERVAL_S, late=60
    )


def _behind(path: FloatArray, tau: float) -> FloatArray:
    if not tau:
        return path
    a, out, state = np.exp(-1.0 / tau), np.empty_like(path), 0.0
    for k, value in enumerate(path.tolist()):
        state = a * state + (1.0 - a) * value
        out[k] = state
    return out


@pytest.mark.parametrize(("tau", "n_average"), [(1.4, 8), (5.5, 16), (0.6, 4), (4.0, 12), (9.0, 16)])
@pytest.mark.parametrize("stop", [_hard, _springs])
def test_an_average_behind_a_pole_is_seen(stop: Stop, tau: float, n_average: int) -> None:
    assert averaged_reports(flicks(stop, tau, n_average), tau * INTERVAL_S) == n_average


@pytest.mark.parametrize("stop", [_hard, _by_itself, _springs])
@pytest.mark.parametrize(("tau", "second"), [(1.5, 0.0), (6.0, 0.0), (15.0, 0.0), (5.0, 3.0), (2.0, 2.0)])
def test_poles_and_thumbs_are_no_average(stop: Stop, tau: float, second: float) -> None:
    assert averaged_reports(flicks(stop, tau, 1, second=second), (tau + second) * INTERVAL_S) == 1


def test_of_an_average_and_its_divisors_the_longest_counts() -> None:
    seven, eight, nine = np.median(ripples(flicks(_hard, 3.0, 16), 0.003, 5, range(7, 10)), axis=1)
    assert eight < min(seven, nine)
    fifteen, sixteen, seventeen = np.median(ripples(flicks(_hard, 3.0, 16), 0.003, 5, range(15, 18)), axis=1)
    assert sixteen < min(fifteen, seventeen)
    assert averaged_reports(flicks(_hard, 3.0, 16), 0.003) == 16


FLICKS = np.arange(12)


@pytest.mark.parametrize(
    ("rests", "found"),
    [
        (np.full(12, 0.7), 10),
        (np.full(12, 0.9), 1),  # hardly quieter
        (np.where(FLICKS < 8, 0.6, 2.0), 1),  # in some flicks
        (np.where(FLICKS < 6, 0.7, np.nan), 10),
        (np.where(FLICKS < 5, 0.7, np.nan), 1),  # few flicks were held long enough
    ],
)
def test_flicks_agree_one_by_one_on_a_length(monkeypatch: pytest.MonkeyPatch, rests: FloatArray, found: int) -> None:
    def left(_flicks: EvenFlicks, _tau_s: float, _width: int, lengths: range) -> FloatArray:
        return np.array([rests if n == 10 else np.full(12, 0.05 if n == 3 else 1.0) for n in lengths])

    monkeypatch.setattr(averaged, "ripples", left)
    assert averaged_reports(flicks(_hard, 3.0, 1), 0.003) == found
    assert averaged_reports(flicks(_hard, 3.0, 1), 0.019) == found
    assert averaged_reports(flicks(_hard, 3.0, 1), 0.021) == 1  # too short behind such a pole


def test_an_average_shorter_than_the_derivative_is_not_asked_for_there(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = {}

    def left(_flicks: EvenFlicks, _tau_s: float, width: int, lengths: range) -> FloatArray:
        asked[width] = lengths[1]
        return np.ones((len(lengths), 12))

    monkeypatch.setattr(averaged, "ripples", left)
    assert averaged_reports(flicks(_hard, 3.0, 1), 0.003) == 1
    assert asked == {5: 4, 7: 7, 9: 10}  # a derivative over w readings has zeros of its own at shorter ones


@pytest.mark.parametrize(("tau", "n_average"), [(6.6, 8), (8.0, 8)])
def test_noise_that_covers_the_ripple_of_a_flick_is_seen_through_by_all(tau: float, n_average: int) -> None:
    noisy = flicks(_hard, tau, n_average, noise=4e-4)
    assert averaged_reports(noisy, tau * INTERVAL_S) == n_average


def test_a_stick_that_is_wholly_still_divides_by_nothing() -> None:
    still = flicks(_hard, 0.0, 1)
    still = replace(still, y=np.where(np.arange(150) < 60, 0.0, 0.7) * np.ones((12, 2, 1)))
    assert averaged_reports(still, 1e-6) == 1


def test_short_holds_say_nothing() -> None:
    some = flicks(_hard, 3.0, 8)
    cut = EvenFlicks(
        y=some.y[..., :70], end=some.end, group=some.group, tells=some.tells, noise_fs=some.noise_fs,
        interval_s=INTERVAL_S, late=60,
    )  # fmt: skip
    assert np.isnan(ripples(cut, 0.003, 5, range(25, 26))).all()
    assert averaged_reports(cut, 0.003) == 1
