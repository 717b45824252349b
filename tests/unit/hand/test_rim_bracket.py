"""What the rim allows: the bounds hold for each family, tell their width, and every allowance in them is needed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from feelcheck.hand.gate_stop import rim_bracket
from feelcheck.hand.gate_stop.rim_bracket import ONE_POLE, EvenFlicks, Family, StickBrackets, rim_brackets
from feelcheck.model import FloatArray, RimBracket

FINE = 20
INTERVAL_S = 1e-3
REACH = 0.9
MET, LENGTH = 80, 480
"""Report at which the stick meets the rim, and reports of a flick."""

RNG = np.random.default_rng


def radius(rng: np.random.Generator, *, braked: bool, give: float, bounce: float) -> FloatArray:
    """The way out from rest, into the rim at speed or braked by the thumb, in fractions of the reach."""
    t = np.arange(-MET, LENGTH - MET, 1.0 / FINE)
    length = rng.uniform(25.0, 55.0)
    u = np.clip(1.0 + t / length, 0.0, None)
    if braked:
        return np.where(u < 2.0, 0.5 - 0.5 * np.cos(0.5 * np.pi * u), 1.0)
    turn = rng.uniform(0.4, 1.0)
    out = np.where(u < turn, u**2 / (2 * turn), u - turn / 2) / (1.0 - turn / 2)
    at_rim = (
        1.0
        + give * (1 - np.exp(-np.maximum(t, 0) / 12))
        - bounce * np.abs(np.sin(np.pi * t / 9)) * np.exp(-np.maximum(t, 0) / 6)
    )
    return np.where(t < 0, out, at_rim)


def seen(path: FloatArray, family: Family, delay_s: float) -> FloatArray:
    """Step a fine grid through poles, then average reports."""
    poles, n_average = family.undo(delay_s / INTERVAL_S)
    for tau in poles:
        kept = np.exp(-1.0 / (FINE * tau))
        path = lfilter([1.0 - kept], [1.0, -kept], path)
    return np.asarray(lfilter(np.ones(n_average) / n_average, [1.0], path[::FINE]))


def flicks(
    family: Family = ONE_POLE,
    delays_s: tuple[float, float] = (0.009, 0.009),
    *,
    slide_deg: float = 0.0,
    noise: float = 1.5e-4,
    give: float = 0.0,
    bounce: float = 0.0,
    braked: bool = False,
    angles_deg: tuple[float, ...] = (45.0, 135.0, 225.0, 315.0),
    n: int = 16,
    seed: int = 0,
) -> EvenFlicks:
    """Flicks whose x and y axis lag by `delays_s`."""
    rng, y, group = RNG(seed), np.zeros((n, 2, LENGTH)), np.zeros((n, 2), dtype=np.int64)
    t = np.arange(-MET, LENGTH - MET, 1.0 / FINE)
    for f in range(n):
        r = REACH * radius(rng, braked=braked, give=give, bounce=bounce)
        end = np.radians(angles_deg[f % len(angles_deg)])
        slide = np.radians(slide_deg) * rng.choice([-1.0, 1.0]) * np.exp(-np.maximum(t, 0.0) / 12)
        for axis, wave in enumerate((np.cos, np.sin)):
            sign = -1 if wave(end) < 0 else 1
            y[f, axis] = seen(sign * r * wave(end + slide), family, delays_s[axis]) + noise * rng.normal(size=LENGTH)
            group[f, axis] = 2 * axis + (sign < 0)
    ends = y[:, :, -60:].mean(axis=2)
    return EvenFlicks(
        y=y,
        end=ends,
        group=group,
        tells=np.abs(ends) > 0.35 * np.hypot(*ends.T)[:, None],
        noise_fs=noise,
        interval_s=INTERVAL_S,
        late=MET,
    )


def holds(found: StickBrackets, delays_s: tuple[float, float]) -> bool:
    return all(found.holds(g, delays_s[g // 2]) for g in range(4))


FAMILIES = (
    ONE_POLE,
    Family(name="two_pole", quick_share=0.3),
    Family(name="average"),
    Family(name="pole_average", n_average=6),
)


@pytest.mark.parametrize("family", FAMILIES, ids=[family.name for family in FAMILIES])
@pytest.mark.parametrize("delay_s", [0.003, 0.006, 0.012])
def test_each_family_is_held_by_its_own_inverse(family: Family, delay_s: float) -> None:
    found = rim_brackets(flicks(family, (delay_s, delay_s)), family)
    assert holds(found, (delay_s, delay_s))
    # 3 % of a reach that is crossed in some 15 to 30 ms at the end, and a parabola of 5 readings: 2 to 3 ms
    assert np.all(found.high_s < delay_s + 0.004)


@pytest.mark.parametrize("tau_s", [0.002, 0.02, 0.06])
@pytest.mark.parametrize("wrong", [{"slide_deg": 3.0}, {"give": 0.015}, {"bounce": 0.02}, {"noise": 0.002}])
def test_slides_rims_that_give_bounces_and_noise_do_not_push_the_truth_out(
    tau_s: float, wrong: dict[str, float]
) -> None:
    assert holds(rim_brackets(flicks(delays_s=(tau_s, tau_s), **wrong), ONE_POLE), (tau_s, tau_s))  # type: ignore[arg-type]


def test_axes_of_different_smoothing_are_told_apart() -> None:
    found = rim_brackets(flicks(delays_s=(0.006, 0.012), slide_deg=2.0), ONE_POLE)
    assert holds(found, (0.006, 0.012))
    assert found.high_s[0] < 0.012 < found.high_s[2]
    assert found.low_s[0] < 0.006 < found.low_s[2]


def test_the_truth_of_one_family_is_no_bound_for_another() -> None:
    found = rim_brackets(flicks(FAMILIES[2], (0.008, 0.008)), ONE_POLE)
    assert np.all(found.high_s < 0.008)


def test_a_false_optimum_of_two_and_a_half_times_the_truth_is_outside() -> None:
    found = rim_brackets(flicks(slide_deg=3.0, give=0.005, bounce=0.01), ONE_POLE)
    assert not any(found.holds(g, 0.0225) for g in range(4))
    assert not any(found.holds(g, 0.0036) for g in range(4))


def test_noise_and_coarse_codes_widen_the_bracket() -> None:
    fine, coarse = (rim_brackets(flicks(noise=noise), ONE_POLE) for noise in (1e-4, 4e-3))
    assert holds(coarse, (0.009, 0.009))
    assert np.all(coarse.high_s - coarse.low_s > fine.high_s - fine.low_s)


def test_a_stick_that_the_thumb_brakes_gives_no_lower_bound() -> None:
    found = rim_brackets(flicks(braked=True), ONE_POLE)
    assert np.all(found.low_s == 0.0)
    assert np.all(found.high_s > 0.009)
    assert found.of(0) == RimBracket(family="one_pole", low_s=None, high_s=float(found.high_s[0]), n=8)


def test_what_rims_may_give_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    given = flicks(delays_s=(0.04, 0.04), give=0.02)
    assert holds(rim_brackets(given, ONE_POLE), (0.04, 0.04))
    monkeypatch.setattr(rim_bracket, "GIVE", 1e-3)
    assert not holds(rim_brackets(given, ONE_POLE), (0.04, 0.04))


def test_the_allowance_for_noise_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    noisy = flicks(delays_s=(0.04, 0.04), noise=0.004)
    assert holds(rim_brackets(noisy, ONE_POLE), (0.04, 0.04))
    monkeypatch.setattr(rim_bracket, "NOISE_SDS", 0.01)
    assert not holds(rim_brackets(noisy, ONE_POLE), (0.04, 0.04))


def test_flicks_along_an_axis_are_judged_by_that_axis_alone() -> None:
    found = rim_brackets(flicks(angles_deg=(0.0, 180.0), slide_deg=4.0), ONE_POLE)
    assert found.n.tolist() == [8, 8, 0, 0]
    assert all(found.holds(g, 0.009) for g in range(2))
    assert found.of(2) == RimBracket(family="one_pole", low_s=None, high_s=None, n=0)
    np.testing.assert_allclose(found.start_s[2:], np.median(found.start_s[:2]), rtol=1e-9)


def test_flicks_that_say_nothing_give_no_bracket() -> None:
    silent = flicks(n=4)
    silent.tells[:] = False
    found = rim_brackets(silent, ONE_POLE)
    assert not np.isfinite(found.high_s).any()
    assert np.all(found.start_s == rim_bracket.START_S)
