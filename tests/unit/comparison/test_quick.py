"""Two sessions held against each other at once."""

from __future__ import annotations

import pytest

from feelcheck.comparison.quick import quick_changes
from feelcheck.errors import NotComparableError
from feelcheck.model import Condition, Estimate, HandRecord, Status
from feelcheck.renderers.sessions_text import answer_text

NAME = "smoothing_delay"


def _record(rising: Estimate | None, falling: Estimate | None, **facts: str) -> HandRecord:
    sides = {"rising": rising, "falling": falling}
    axes = {"left_x": {key: {NAME: side} for key, side in sides.items() if side is not None}}
    return HandRecord(session="one", condition=Condition(facts=facts), axes=axes)


def _ok(value_ms: float, u_ms: float) -> Estimate:
    return Estimate.measured(NAME, value_ms / 1e3, u=u_ms / 1e3, unit="s", n=4)


def test_the_difference_is_now_minus_before() -> None:
    (change,) = quick_changes(_record(_ok(10.0, 0.3), None), _record(_ok(4.0, 0.4), None))
    assert change.difference.value == pytest.approx(-6e-3)
    assert change.difference.u == pytest.approx(0.5e-3)
    assert "-6.0" in answer_text([change])


def test_a_bound_on_one_side_bounds_the_difference() -> None:
    bound = Estimate.at_most(NAME, 2e-3, unit="s", n=4)
    (change,) = quick_changes(_record(_ok(10.0, 0.5), None), _record(bound, None))
    assert change.difference.status is Status.AT_MOST
    assert change.difference.bound == pytest.approx(2e-3 - (10e-3 - 1.96 * 0.5e-3), abs=2e-5)
    (change,) = quick_changes(_record(bound, None), _record(_ok(10.0, 0.5), None))
    assert change.difference.status is Status.AT_LEAST
    assert change.difference.bound == pytest.approx(8e-3 - 1.96 * 0.5e-3, abs=2e-5)


def test_a_bound_that_overlaps_tells_nothing() -> None:
    bound = Estimate.at_most(NAME, 9.5e-3, unit="s", n=4)
    (change,) = quick_changes(_record(_ok(10.0, 0.5), None), _record(bound, None))
    assert change.difference.status is Status.NOT_RESOLVED


def test_what_neither_side_answers_is_left_out() -> None:
    silent = Estimate.not_resolved(NAME, unit="s")
    assert quick_changes(_record(silent, None), _record(silent, None)) == ()
    assert "No axis answers" in answer_text(())


def test_unlike_sessions_are_refused() -> None:
    with pytest.raises(NotComparableError, match="like recordings"):
        quick_changes(_record(_ok(1.0, 0.1), None, cap="tall"), _record(_ok(1.0, 0.1), None, cap="short"))
