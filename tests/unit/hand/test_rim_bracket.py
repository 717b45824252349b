"""What the rim allows: the bounds hold for each family and tell their width, each allowance is needed, fits answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.signal import lfilter

from feelcheck.hand.gate_stop import rim_bracket, rim_check
from feelcheck.hand.gate_stop.choice import smoothing_delay_s
from feelcheck.hand.gate_stop.even_flicks import EvenFlicks
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.numbers import BRACKET_SDS, START_S
from feelcheck.hand.gate_stop.rim_bracket import ONE_POLE, Family, StickBrackets, rim_brackets, stopped_short
from feelcheck.hand.gate_stop.rim_check import Wall, family_of, held_against_rim, stopped_share
from feelcheck.hand.gate_stop.rim_stop import stop_index
from feelcheck.hand.gate_stop.traces import unsmoothed_trace
from feelcheck.model import FloatArray, RimBracket

FINE = 20
INTERVAL_S = 1e-3
REACH = 0.9
MET, LENGTH = 80, 480
"""Report at which the stick meets the rim, and reports of a flick."""

RNG = np.random.default_rng


def radius(rng: np.random.Generator, *, braked: bool, give: float, bounce: float, slow: bool) -> FloatArray:
    """The way out from rest, into the rim at speed or braked by the thumb, in fractions of the reach."""
    t = np.arange(-MET, LENGTH - MET, 1.0 / FINE)
    length = 75.0 if slow else rng.uniform(25.0, 55.0)
    u = np.clip(1.0 + t / length, 0.0, None)
    if braked:
        return np.where(u < 2.0, 0.5 - 0.5 * np.cos(0.5 * np.pi * u), 1.0)
    turn = 0.1 if slow else rng.uniform(0.4, 1.0)
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
    slow: bool = False,
    angles_deg: tuple[float, ...] = (45.0, 135.0, 225.0, 315.0),
    n: int = 16,
    seed: int = 0,
) -> EvenFlicks:
    """Flicks whose x and y axis lag by `delays_s`."""
    rng, y, group = RNG(seed), np.zeros((n, 2, LENGTH)), np.zeros((n, 2), dtype=np.int64)
    t = np.arange(-MET, LENGTH - MET, 1.0 / FINE)
    for f in range(n):
        r = REACH * radius(rng, braked=braked, give=give, bounce=bounce, slow=slow)
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


def wall_of(these: EvenFlicks) -> Wall:
    brackets = rim_brackets(these, ONE_POLE)
    return Wall(flicks=these, brackets=brackets, one_pole=brackets, stopped=brackets.stopped)


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
    assert np.all(found.start_s == START_S)


def test_smoothing_that_grows_as_the_stick_slows_trails_and_fixed_smoothing_does_not() -> None:
    fixed = flicks()
    assert not rim_brackets(fixed, ONE_POLE).trails.any()
    step = np.diff(fixed.y, axis=-1, prepend=0.0)
    adapted = np.zeros_like(fixed.y)
    for k in range(1, LENGTH):
        # Quick while the readings move, ten times slower at rest.
        share = np.clip(0.02 + 12.0 * np.abs(step[..., k]), 0.02, 0.6)
        adapted[..., k] = adapted[..., k - 1] + share * (fixed.y[..., k] - adapted[..., k - 1])
    grown = replace(fixed, y=adapted, end=adapted[:, :, -30:].mean(axis=2))
    assert rim_brackets(grown, ONE_POLE).trails.all()


def found(*poles_s: float, n_average: int = 1) -> Any:
    shape = ResponseShape(n_poles=len(poles_s), n_average=n_average)
    fit = Point(shape=shape, tau_s=np.tile(poles_s, (4, 1)))
    return Ended(fit=fit, batch=SimpleNamespace(interval_s=0.001))


@dataclass(frozen=True)
class Point:
    shape: ResponseShape
    tau_s: np.ndarray


@dataclass(frozen=True)
class Ended:
    fit: Point
    batch: Any


@dataclass(frozen=True)
class Choice:
    """Stands in for the choice: a fit of all flicks, and other candidates."""

    best: Any
    tried: tuple[Any, ...] = ()
    names: tuple[str, ...] = ()
    gains: tuple[float, ...] = ()
    delay_ratios: tuple[np.ndarray, ...] = ()
    tau_ratios: tuple[np.ndarray, ...] = ()

    @property
    def shape(self) -> ResponseShape:
        return self.best.fit.shape  # type: ignore[no-any-return]

    @property
    def one_pole(self) -> Any:
        return found(0.0225)

    @property
    def delay_s(self) -> np.ndarray:
        return smoothing_delay_s(self.best)

    def with_one_pole(self, best: Any) -> Choice:
        return Choice(best=best)

    def with_another(self, fitted: Any) -> list[Choice]:
        return [Choice(best=one) for one in self.tried]


FLICKS = flicks()
BRACKETS = rim_brackets(FLICKS, ONE_POLE)


def test_a_false_optimum_is_begun_again_from_the_middle_of_the_bracket() -> None:
    begun: list[Any] = []

    def fitted(few: Any) -> Any:
        begun.append(few.fit.tau_s[:, 0])
        return found(0.009)

    choice, wall = held_against_rim(Choice(best=found(0.0225)), FLICKS, BRACKETS, fitted)  # type: ignore[arg-type]
    np.testing.assert_allclose(begun[0], BRACKETS.start_s)
    assert choice.delay_s[0] == 0.009
    assert wall.brackets.holds(0, 0.009)


def test_another_candidate_that_the_rim_allows_comes_before_a_new_beginning() -> None:
    other = found(0.0061, 0.0029)
    choice, wall = held_against_rim(Choice(best=found(0.0225), tried=(other,)), FLICKS, BRACKETS, lambda few: few)  # type: ignore[arg-type]
    assert choice.best is other
    assert wall.brackets.family.name == "two_pole"


def test_what_is_inside_is_not_begun_again() -> None:
    choice = Choice(best=found(0.009))
    held, _ = held_against_rim(choice, FLICKS, BRACKETS, lambda few: pytest.fail("restarted"))  # type: ignore[arg-type]
    assert held.best is choice.best


def test_other_candidates_are_kept_inside_what_the_rim_allows_them() -> None:
    far = found(0.03, 0.01)
    choice = Choice(
        best=found(0.009),
        tried=(far,),
        names=("two_pole",),
        gains=(0.0,),
        delay_ratios=(np.full(4, 0.04 / 0.009),),
        tau_ratios=(np.full(4, 0.03 / 0.009),),
    )
    held, _ = held_against_rim(choice, FLICKS, BRACKETS, lambda few: few)  # type: ignore[arg-type]
    most_s = rim_brackets(FLICKS, family_of(far)).high_s
    np.testing.assert_allclose(held.delay_ratios[0] * 0.009, most_s, rtol=1e-9)
    worse, _ = held_against_rim(replace(choice, gains=(1e3,)), FLICKS, BRACKETS, lambda few: few)  # type: ignore[arg-type]
    assert worse.delay_ratios[0][0] == pytest.approx(0.04 / 0.009)


def test_a_candidate_whose_poles_ran_away_is_not_allowed() -> None:
    assert stopped_share(FLICKS, found(0.009)) > 0.9
    assert stopped_share(FLICKS, found(0.226, 0.00065)) < 0


def test_a_limit_holds_whatever_the_family_is() -> None:
    for family in (ONE_POLE, Family(name="two_pole"), Family(name="average")):
        behind = flicks(family, (0.008, 0.008))
        wall = wall_of(behind)
        assert np.all(wall.longest_s > 0.008)
        assert np.all(wall.longest_s < 0.02)


def test_a_limit_leaves_room_for_responses_of_no_family(monkeypatch: pytest.MonkeyPatch) -> None:
    # An average over 8 reports behind poles of 2.6 ms each delays by 8.7 ms.
    behind = flicks(Family(name="pole_average", n_average=8), (0.0061, 0.0061))
    kept = np.exp(-1.0 / 2.6)
    behind = replace(behind, y=lfilter([1.0 - kept], [1.0, -kept], behind.y))
    assert np.all(wall_of(behind).longest_s > 0.0087)
    whole = wall_of(behind).longest_s
    monkeypatch.setattr(rim_check, "OTHER_SHAPES", 1.0)
    assert np.all(wall_of(behind).longest_s < whole)


def test_bounds_on_both_sides_limit_the_uncertainty_and_one_does_not() -> None:
    wall = wall_of(FLICKS)
    assert wall.relative_u(0) == pytest.approx(np.log(BRACKETS.high_s[0] / BRACKETS.low_s[0]) / BRACKET_SDS)
    open_below = replace(BRACKETS, low_s=np.zeros(4))
    assert replace(wall, brackets=open_below, one_pole=open_below).relative_u(0) == np.inf


def test_another_family_counts_with_the_lower_bound_of_one_pole() -> None:
    lower = replace(BRACKETS, low_s=0.5 * BRACKETS.low_s)
    wall = replace(wall_of(FLICKS), one_pole=lower)
    assert wall.relative_u(0) == pytest.approx(np.log(BRACKETS.high_s[0] / lower.low_s[0]) / BRACKET_SDS)


def test_a_stick_that_the_thumb_brakes_was_not_seen_to_stop() -> None:
    delays_s = np.full(4, 0.009)
    for these, seen in ((FLICKS, True), (flicks(braked=True), False)):
        wall = replace(wall_of(these), stopped=stopped_short(these, ONE_POLE, delays_s))
        assert wall.stops.tolist() == [seen] * 4


@pytest.mark.parametrize(("n_average", "stops"), [(8, True), (20, False)])
def test_a_long_average_is_believed_where_one_pole_shows_stops_as_well(n_average: int, stops: bool) -> None:
    pole_s = 0.003
    delay_s = pole_s + 0.5 * (n_average - 1) * INTERVAL_S
    these = flicks(Family(name="pole_average", n_average=n_average), (delay_s, delay_s))
    choice, brackets = Choice(best=found(pole_s, n_average=n_average)), rim_brackets(these, ONE_POLE)
    _, wall = held_against_rim(choice, these, brackets, lambda few: few)  # type: ignore[arg-type]
    assert wall.stops.tolist() == [stops] * 4


@pytest.mark.parametrize("delay_s", [0.012, 0.034])
def test_a_stop_is_seen_behind_a_long_delay_whose_bound_lies_far_above(delay_s: float) -> None:
    # Undone by the bound instead of the delay, slow sticks run on for milliseconds.
    behind = flicks(delays_s=(delay_s, delay_s), noise=3e-4, bounce=0.004, seed=3, slow=True)
    brackets = rim_brackets(behind, ONE_POLE)
    assert np.all(brackets.low_s > 0)
    assert brackets.stopped.mean() > 0.9
    assert holds(brackets, (delay_s, delay_s))


@pytest.mark.parametrize("share", [0.7, 1.4])
def test_a_wrong_delay_shows_no_stop_at_the_rim(share: float) -> None:
    wrong = stopped_short(FLICKS, ONE_POLE, np.full(4, share * 0.009))
    assert stopped_short(FLICKS, ONE_POLE, np.full(4, 0.009)).mean() > wrong.mean() + 0.4


def test_a_stick_that_stops_short_of_the_rim_and_creeps_on_did_not_meet_it() -> None:
    path = np.clip(np.arange(150) / 50.0, 0.0, 1.0)
    assert stop_index(path, 0, 0.001) is not None
    creeping = np.minimum(path, 0.96 + 0.0005 * np.maximum(np.arange(150) - 48, 0))
    assert stop_index(creeping, 0, 0.001) is None


def test_the_flick_that_is_drawn_stops_at_the_rim_by_the_choice_and_goes_through_it_by_the_other() -> None:
    wall = wall_of(FLICKS)
    chosen: Any = SimpleNamespace(best=found(0.009), delay_s=np.full(4, 0.009), shape=ResponseShape(n_poles=1))
    (trace,) = unsmoothed_trace(chosen, wall, ("left_x", "left_y"), "left")
    assert trace.arrays["chosen_fraction"].max() < 1.02
    assert trace.arrays["rejected_fraction"].max() > 1.1
    assert trace.arrays["t_s"][np.argmax(trace.arrays["chosen_fraction"] > 0.985)] == pytest.approx(0.0, abs=0.004)
    assert trace.marks["rejected_delay_s"] > 1.3 * float(np.median(wall.brackets.high_s))
    open_above = replace(wall.brackets, high_s=np.full(4, np.inf))
    assert unsmoothed_trace(chosen, replace(wall, brackets=open_above), ("left_x", "left_y"), "left") == ()


def test_families_carry_what_is_fixed_in_them() -> None:
    assert family_of(found(0.006)) == ONE_POLE
    assert family_of(found(0.006, 0.002)).quick_share == pytest.approx(0.25)
    assert family_of(found(0.006, n_average=5)) == Family(name="pole_average", n_average=5)
