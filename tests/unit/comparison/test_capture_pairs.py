"""Several specimens before and after one change, by their captures: each is held against itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from feelcheck.comparison import Plan, compare_paired_states
from feelcheck.errors import NotComparableError, NotEnoughDataError
from feelcheck.model import BenchRecord, Condition, Estimate, HandRecord, Margin

PLAN = Plan(fixed_beforehand=True, margins={"smoothing_delay": Margin(value=0.001)})
DELAYS_MS = {"alder": (4.7, 1.1), "birch": (5.1, 1.5), "cedar": (4.3, 0.75), "elm": (4.9, 1.25)}


def capture(value_ms: float, state: str, *, axis: str = "left_x", drive: str = "field") -> BenchRecord:
    def told(name: str, value: float, unit: str) -> Estimate:
        return Estimate.measured(name, value, u=2e-3 * value, unit=unit, n=1)

    return BenchRecord(
        axis=axis,
        path=f"{state}_{value_ms}.csv",
        state=state,
        drive_kind=drive,
        directions={"rising": {"smoothing_delay": told("smoothing_delay", value_ms / 1e3, "s")}},
        overall={"swing": told("swing", 1.0, "V")},
    )


def records(**more: str) -> dict[str, Sequence[BenchRecord]]:
    return {
        name: [capture(v + k * 0.01, state, **more) for state, v in zip(("as_found", "lifted"), own, strict=True)
               for k in (0, 1)]
        for name, own in DELAYS_MS.items()
    }  # fmt: skip


def test_each_specimen_is_held_against_its_own_captures() -> None:
    found = compare_paired_states(records(), before="as_found", after="lifted", plan=PLAN)
    delay, swing = found.change
    assert (delay.name, delay.direction, delay.axis, delay.sources) == ("smoothing_delay", "rising", "left_x",
                                                                        ("bench", "bench"))  # fmt: skip
    assert (delay.verdict, delay.difference.n) == ("different", 4)
    assert delay.difference.value == pytest.approx(-3.6e-3, abs=1e-5)
    assert [own.specimen for own in delay.pairs] == list(DELAYS_MS)
    assert (swing.name, swing.verdict) == ("swing", "equivalent")
    assert swing.margin == pytest.approx(0.05)


def test_sensors_of_two_axes_are_no_repeats() -> None:
    both = {name: [*own, *records(axis="left_y")[name]] for name, own in records().items()}
    found = compare_paired_states(both, before="as_found", after="lifted", plan=PLAN)
    assert [(row.axis, row.name) for row in found.change] == [
        (axis, name) for axis in ("left_x", "left_y") for name in ("smoothing_delay", "swing")
    ]


def test_a_drive_on_one_side_leaves_delays_open_and_says_so() -> None:
    uneven = records()
    uneven["birch"] = [replace(one, drive_kind="none") if one.state == "lifted" else one for one in uneven["birch"]]
    found = compare_paired_states(uneven, before="as_found", after="lifted", plan=PLAN)
    assert [row.verdict for row in found.change] == ["undecided", "equivalent"]
    assert found.caveats[0].code == "drive_on_one_side"


def test_captures_of_a_simulation_are_not_held_against_real_ones() -> None:
    mixed = records()
    mixed["cedar"] = [replace(one, simulated=one.state == "lifted") for one in mixed["cedar"]]
    with pytest.raises(NotComparableError, match="cedar"):
        compare_paired_states(mixed, before="as_found", after="lifted", plan=PLAN)


def test_a_specimen_without_captures_in_a_state_is_named() -> None:
    short = records()
    short["elm"] = [one for one in short["elm"] if one.state == "as_found"]
    with pytest.raises(NotEnoughDataError, match="elm: no capture in lifted"):
        compare_paired_states(short, before="as_found", after="lifted", plan=PLAN)


def test_hands_of_one_specimen_and_captures_of_another_are_no_pairs() -> None:
    hand = HandRecord(session="a", state="as_found", condition=Condition(), axes={})
    with pytest.raises(NotEnoughDataError, match="alder: no capture in as_found and lifted"):
        compare_paired_states(
            {**records(), "alder": [hand, replace(hand, state="lifted")]}, before="as_found", after="lifted", plan=PLAN
        )


def test_what_only_a_strict_level_leaves_open_is_said() -> None:
    few = {name: own for name, own in records().items() if name in ("alder", "birch", "cedar")}
    strict = Plan(margins={"smoothing_delay": Margin(value=0.001)})
    few["cedar"] = [replace(one, directions=capture(2.6, one.state).directions) if one.state == "lifted" else one
                    for one in few["cedar"]]  # fmt: skip
    delay = compare_paired_states(few, before="as_found", after="lifted", plan=strict).change[0]
    assert delay.verdict == "undecided"
    assert delay.why.startswith("the interval leaves out 0, but 2 quantities at once ask for more")
