"""Repeats of one capture: values are averaged, and where they differ in status the more cautious one stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from feelcheck.bench import measure_repeats, repeats
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchDirection, BenchResult, Capture, Caveat, Channel, Estimate, Provenance, Status

SLOW, FEW = Caveat(code="slow", text="Slow."), Caveat(code="few", text="Few.")
CAPTURE = Capture(
    t_s=np.arange(2.0), interval_s=1.0, channels=(Channel(name="out", values=np.zeros(2)),), provenance=Provenance()
)


def told(value: float, u: float = 0.1, dof: float = math.inf, *caveats: Caveat) -> Estimate:
    return Estimate.measured("q", value, u=u, unit="s", dof=dof, caveats=caveats)


def direction(tau: Estimate, **more: Any) -> BenchDirection:
    names = (
        "transition_10_90",
        "step_transition_10_90",
        "dead_time",
        "smoothing_delay",
        "mean_delay",
        "settled_fraction",
    )
    return BenchDirection(time_constant=tau, **{**dict.fromkeys(names, told(1.0)), "n_edges": 2, **more})


def pooled(monkeypatch: pytest.MonkeyPatch, *sides: BenchDirection | None, caveats: Sequence[Any] = ()) -> BenchResult:
    """Return what is made of repeats that were measured as these rising edges."""
    results = iter(
        BenchResult(
            capture=CAPTURE, drive_name=None, output_name="out", drive_transition=None, drive_swing=None, drive_kind="",
            rising=side, falling=None, asymmetry=told(1.0), update_interval=told(1.0), noise=told(1.0), swing=told(1.0),
            caveats=tuple(caveats[k : k + 1]),
        )
        for k, side in enumerate(sides)
    )  # fmt: skip
    monkeypatch.setattr(repeats, "measure_response", lambda *_, **__: next(results))
    return measure_repeats([CAPTURE] * len(sides))


TOP, BOTTOM = Estimate.at_most("q", 2.0, unit="s"), Estimate.at_least("q", 3.0, unit="s")
NOTHING, ABSENT = Estimate.not_resolved("q", unit="s"), Estimate.not_present("q", unit="s")


@pytest.mark.parametrize(
    ("estimates", "status", "number"),
    [
        ((told(4.0), told(6.0)), Status.OK, 5.0),
        ((TOP, Estimate.at_most("q", 5.0, unit="s")), Status.AT_MOST, 5.0),
        ((BOTTOM, Estimate.at_least("q", 1.0, unit="s")), Status.AT_LEAST, 1.0),
        ((told(4.0, 0.5), TOP), Status.AT_MOST, 4.0 + 1.96 * 0.5),
        ((TOP, told(1.0, 0.1)), Status.AT_MOST, 2.0),
        ((told(4.0), BOTTOM), Status.NOT_RESOLVED, None),
        ((TOP, BOTTOM), Status.NOT_RESOLVED, None),
        ((told(4.0), NOTHING), Status.NOT_RESOLVED, None),
        ((ABSENT, ABSENT), Status.NOT_PRESENT, None),
        ((ABSENT, NOTHING), Status.NOT_RESOLVED, None),
    ],
)
def test_the_more_cautious_statement_stands(
    estimates: tuple[Estimate, ...], status: Status, number: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    for order in (estimates, estimates[::-1]):
        rising = pooled(monkeypatch, *map(direction, order)).rising
        assert rising is not None
        found = rising.time_constant
        assert (found.status, found.n) == (status, 2)
        assert (found.value if found.is_ok else found.bound) == (None if number is None else pytest.approx(number))


def test_scatter_between_repeats_counts_where_it_is_larger_than_each_ones_own(monkeypatch: pytest.MonkeyPatch) -> None:
    # 4, 5, 6: standard error 1 / sqrt(3) with two degrees of freedom.
    rising = pooled(monkeypatch, *(direction(told(value, 0.01, 50.0)) for value in (4.0, 5.0, 6.0))).rising
    assert rising is not None
    assert (rising.time_constant.u, rising.time_constant.dof) == pytest.approx((1 / math.sqrt(3), 2.0))


def test_repeats_that_agree_keep_their_own_uncertainty(monkeypatch: pytest.MonkeyPatch) -> None:
    rising = pooled(monkeypatch, direction(told(4.0, 0.3, 50.0)), direction(told(4.0, 0.4, 20.0))).rising
    assert rising is not None
    assert (rising.time_constant.u, rising.time_constant.dof) == pytest.approx((0.25, 20.0))


def test_edges_add_up_poles_only_of_like_models_and_one_flat_top_is_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    one = direction(
        told(4.0), model="one_pole", poles=(told(4.0),), saturated=True, extra={"a": told(1.0), "b": told(1.0)}
    )
    two = direction(told(4.0), model="two_pole", poles=(told(4.0), told(1.0)), extra={"a": told(3.0)})
    unlike, alike = pooled(monkeypatch, one, two).rising, pooled(monkeypatch, one, one).rising
    assert unlike is not None
    assert alike is not None
    assert (unlike.model, unlike.poles, unlike.n_edges, unlike.saturated) == ("unclear", (), 4, True)
    assert {key: estimate.value for key, estimate in unlike.extra.items()} == {"a": 2.0}
    assert (alike.model, len(alike.poles)) == ("one_pole", 1)


def test_a_direction_that_some_repeats_lack_is_that_of_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    found = pooled(monkeypatch, None, direction(told(4.0)))
    assert found.rising is not None
    assert found.rising.time_constant.value == 4.0
    assert pooled(monkeypatch, None, None).rising is None


def test_remarks_of_all_repeats_are_kept_once(monkeypatch: pytest.MonkeyPatch) -> None:
    sides = [direction(told(4.0, 0.1, math.inf, SLOW)), direction(told(4.0, 0.1, math.inf, SLOW, FEW))]
    found = pooled(monkeypatch, *sides, caveats=(FEW, SLOW))
    assert found.caveats == (FEW, SLOW)
    assert found.rising is not None
    assert [caveat.code for caveat in found.rising.time_constant.caveats] == ["slow", "few"]


def test_no_capture_is_nothing_to_repeat() -> None:
    with pytest.raises(NotEnoughDataError, match="at least one capture"):
        measure_repeats([])
