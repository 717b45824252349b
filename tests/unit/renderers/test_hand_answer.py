"""What is said first about a recording."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from feelcheck.model import Caveat, Estimate, HandResult
from feelcheck.renderers.hand_answer import hand_answer, ways_of

OPEN = Estimate.not_resolved(
    "smoothing_delay", unit="s", caveats=(Caveat(code="few", text="One flick only.", advice="Record ten."),)
)


def ms(value: float, u: float = 0.1) -> Estimate:
    return Estimate.measured("smoothing_delay", value * 1e-3, u=u * 1e-3, unit="s", n=12)


def ratio(value: float, u: float) -> Estimate:
    return Estimate.measured("asymmetry", value, u=u, unit="ratio", n=12)


def less(bound: float) -> Estimate:
    return Estimate.at_most("smoothing_delay", bound * 1e-3, unit="s")


def result(**axes: Any) -> HandResult:
    """Return axes given as (rising, falling) or (rising, falling, ratio)."""
    made = {
        name: SimpleNamespace(
            sides={
                "rising": SimpleNamespace(smoothing_delay=rising),
                "falling": SimpleNamespace(smoothing_delay=falling),
            },
            asymmetry=more[0] if more else replace(OPEN, unit="ratio"),
        )
        for name, (rising, falling, *more) in axes.items()
    }
    return cast(HandResult, SimpleNamespace(axes=made, caveats=()))


@pytest.mark.parametrize(
    ("axes", "said"),
    [
        (
            {"x": (ms(9), ms(14)), "y": (ms(8), ms(13))},
            "The reading trails the thumb by 14.00 ms (13.80 to 14.20) on x with its code falling, the slowest of 4 "
            "ways; by 8.00 ms (7.80 to 8.20) on y with its code rising, the quickest.",
        ),
        (
            {"x": (ms(9), less(2)), "y": (OPEN, OPEN)},
            "by 9.00 ms (8.80 to 9.20) on x with its code rising; by less than",
        ),
        ({"x": (less(1), less(2))}, "Any smoothing is shorter than 2.00 ms, on each of 2 ways."),
        ({"x": (less(1), OPEN)}, "Not told: x with its code falling. Record ten."),
        ({"x": (OPEN, OPEN)}, "No value from this log. One flick only. Record ten."),
        ({}, "This log does not tell how much the stick's electronics smooth."),
        (
            {"x": (ms(9), ms(14), ratio(1.5, 0.05))},
            "Falling takes longer than rising: 1.500 (1.402 to 1.598) times on x.",
        ),
        ({"x": (ms(14), ms(9), ratio(0.6, 0.05))}, "Falling takes less long than rising: 0.600"),
    ],
)
def test_the_answer_is_said_first(axes: dict[str, Any], said: str) -> None:
    assert said in " ".join(hand_answer(result(**axes)))


def test_an_asymmetry_that_may_be_none_is_not_said() -> None:
    for unsure in (ratio(1.5, 0.4), ratio(1.02, 0.005)):
        assert "Falling takes" not in " ".join(hand_answer(result(x=(ms(9), ms(9), unsure))))


def test_every_way_of_every_axis_is_looked_at() -> None:
    assert [(axis, way) for axis, way, _ in ways_of(result(x=(ms(1), ms(2)), y=(OPEN, OPEN)))] == [
        ("x", "rising"), ("x", "falling"), ("y", "rising"), ("y", "falling"),
    ]  # fmt: skip
