"""Which response is felt: hand before bench before parts, joined by polarity, in the pad that was recorded."""

from __future__ import annotations

import math
from typing import Any

import pytest

from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchRecord, Condition, Estimate, HandRecord, Part, Play, Profile, Status
from feelcheck.pipeline._feel import feel_specimens, used_responses
from feelcheck.pipeline._specimens import Specimen

PLAY = Play(turn_rate_deg_s=200.0)


def told(name: str, value: float, u: float = 1e-4, unit: str = "s") -> Estimate:
    return Estimate.measured(name, value, u=u, unit=unit, n=8, dof=7)


def hand(
    rising_ms: float, falling_ms: float, *, axis: str = "left_x", mounting: int | None = None, **both: Any
) -> HandRecord:
    groups = {
        direction: {"smoothing_delay": told("smoothing_delay", ms / 1e3), "pole_1": told("pole_1", ms / 1e3)}
        for direction, ms in (("rising", rising_ms), ("falling", falling_ms))
    }
    return HandRecord(
        session=f"s{mounting or rising_ms}", axes={axis: {**groups, "": both}}, condition=Condition(mounting=mounting)
    )


BENCH = BenchRecord(
    axis="left_x",
    directions={
        "rising": {"mean_delay": told("mean_delay", 0.004), "pole_1": told("pole_1", 0.004)},
        "falling": {"mean_delay": told("mean_delay", 0.006)},
    },
)
PARTS = (
    Part(position="r1", role="series_resistor", value=2000.0, unit="ohm", axis="left_x", tolerance_fraction=0.0),
    Part(
        position="c1", role="capacitor", value=1e-6, unit="F", axis="left_x", dielectric="C0G", tolerance_fraction=0.0
    ),
)


def specimen(name: str = "elm", **more: Any) -> Specimen:
    return Specimen(profile=Profile(specimen=name, **more), state="as_found")


@pytest.mark.parametrize(
    ("more", "origin", "rising_ms", "falling_ms"),
    [
        ({"hand": (hand(9.0, 14.0),), "bench": (BENCH,), "parts": PARTS}, "hand", 9.0, 14.0),
        ({"bench": (BENCH,), "parts": PARTS}, "bench", 4.0, 6.0),
        ({"parts": PARTS}, "parts", 2.0, 2.0),
    ],
)
def test_the_nearest_to_the_hand_is_used(more: Any, origin: str, rising_ms: float, falling_ms: float) -> None:
    (used,) = used_responses(specimen(**more))
    assert (used.origin, used.axis) == (origin, "left_x")
    assert (used.rising.value, used.falling.value) == pytest.approx((rising_ms / 1e3, falling_ms / 1e3), rel=1e-4)


def test_a_hand_that_gave_only_a_bound_leaves_the_word_to_the_bench() -> None:
    bounded = HandRecord(
        session="s",
        axes={"left_x": {"rising": {"smoothing_delay": Estimate.at_most("smoothing_delay", 0.01, unit="s")}}},
    )
    assert [used.origin for used in used_responses(specimen(hand=(bounded,), bench=(BENCH,)))] == ["bench"]
    (alone,) = used_responses(specimen(hand=(bounded,)))
    assert (alone.origin, alone.rising.status) == ("hand", Status.AT_MOST)


@pytest.mark.parametrize(
    ("polarity", "rising_ms", "remarks"),
    [({"left_x": 1}, 4.0, []), ({"left_x": -1}, 6.0, []), ({}, 4.0, ["polarity_unknown"])],
)
def test_volts_become_code_through_the_polarity(polarity: dict[str, int], rising_ms: float, remarks: list[str]) -> None:
    (used,) = used_responses(specimen(bench=(BENCH,), polarity=polarity))
    assert used.rising.value == pytest.approx(rising_ms / 1e3)
    assert [caveat.code for caveat in used.caveats] == remarks


def test_nothing_known_is_nothing_felt() -> None:
    with pytest.raises(NotEnoughDataError, match=r"(?s)needs a response from the hand or the bench.*specimen: elm"):
        used_responses(specimen())


def test_mountings_are_pooled_and_the_latest_poles_rescaled() -> None:
    # Means 9 and 14 ms; the last session's pole of 9.4 ms is made as slow as all of them say.
    (used,) = used_responses(specimen(hand=tuple(hand(ms, ms + 5, mounting=k) for k, ms in enumerate((8.6, 9.0, 9.4)))))
    assert used.rising.value == pytest.approx(0.009)
    assert used.rising.u == pytest.approx(0.4e-3 / math.sqrt(3), rel=0.05)
    assert used.rising_poles_s == pytest.approx((0.009,))


def test_what_one_session_knows_of_an_axis_is_used_as_it_stands() -> None:
    speed, step = told("peak_speed", 12.0, 0.5, "throws/s"), told("quantization_step_of_throw", 0.01, 0.0, "fraction")
    noise = Estimate.at_most("rest_noise", 8.0, unit="counts")
    (used,) = used_responses(
        specimen(hand=(hand(9.0, 14.0, peak_speed=speed, quantization_step_of_throw=step, rest_noise=noise),))
    )
    assert (used.peak_speed, used.step_fraction, used.rest_noise) == (speed, step, noise)


def test_a_board_on_the_bench_is_felt_in_the_pad_of_the_first_specimen() -> None:
    step = told("quantization_step_of_throw", 0.01, 0.0, "fraction")
    pad = specimen("alder", hand=(hand(9.0, 14.0, quantization_step_of_throw=step),), polarity={"left_x": 1})
    board = specimen("birch", bench=(BENCH,), polarity={"left_x": 1})
    first, second = feel_specimens([pad, board], PLAY)
    assert first.difference is None
    (axis,) = second.axes
    assert axis.origin == "bench"
    assert "those of the hand sessions of alder" in axis.caveats[-1].text
    assert axis.estimates["steady_speed_step_below"].value == pytest.approx(0.01 / 0.07)
    # The largest difference to the first: falling, 6 against 14 ms.
    assert second.difference is not None
    assert second.difference.value == pytest.approx(-0.008)
    assert second.difference_at == "left_x, falling"


def test_like_axes_are_held_against_each_other_and_others_only_where_there_is_no_choice() -> None:
    both = HandRecord(session="s", axes={**hand(5.0, 5.0).axes, **hand(30.0, 30.0, axis="left_y").axes})
    pad, one = specimen("alder", hand=(both,)), specimen("birch", hand=(hand(9.0, 14.0),))
    other = specimen("cedar", hand=(hand(9.0, 14.0, axis="output"),))
    assert feel_specimens([pad, one], PLAY)[1].difference_at == "left_x, falling"
    assert feel_specimens([pad, other], PLAY)[1].difference_at == "output against left_y, rising"
    assert feel_specimens([pad, specimen("elm", hand=(HandRecord(session="e", axes={
        **hand(5.0, 5.0, axis="a").axes, **hand(5.0, 5.0, axis="b").axes}),))], PLAY)[1].difference is None  # fmt: skip


def test_a_lifted_capacitor_can_be_felt_before_it_is_lifted() -> None:
    found = Specimen(
        profile=Profile(specimen="elm", parts=(PARTS[0],), hand=(hand(9.0, 14.0),), polarity={"left_x": 1}),
        state="c1=lifted",
    )
    (result,) = feel_specimens([found], PLAY)
    assert result.axes[0].origin == "parts"
    assert result.axes[0].estimates["carry_on_after_release"].value == 0.0
