"""Links of several specimens together: records that were mixed up."""

from __future__ import annotations

from dataclasses import replace

import pytest

from feelcheck.model import BenchRecord, Estimate, HandRecord, Part, Profile, SensorFound
from feelcheck.pipeline._chain import chain_among
from feelcheck.pipeline._compare import compare_specimens
from feelcheck.pipeline._specimens import Specimen


def delay(value_ms: float) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=5e-5, unit="s", n=8)


def specimen(
    name: str, ohm: float, bench_ms: float, hand_ms: float, dielectric: str = "C0G", source_ohm: float = 0.0
) -> Specimen:
    known = {"measured": "out_of_circuit", "tolerance_fraction": 0.01}
    parts = (
        Part(position="r1", role="series_resistor", value=ohm, unit="ohm", **known),  # type: ignore[arg-type]
        Part(position="c1", role="capacitor", value=1e-6, unit="F", dielectric=dielectric, **known),  # type: ignore[arg-type]
    )
    bench = BenchRecord(axis="left_x", directions={"rising": {"smoothing_delay": delay(bench_ms)}})
    hand = HandRecord(session=name, axes={"left_x": {"rising": {"smoothing_delay": delay(hand_ms)}}})
    sensor = SensorFound(source_ohm=source_ohm)
    profile = Profile(specimen=name, sensor=sensor, parts=parts, bench=(bench,), hand=(hand,), polarity={"left_x": 1})
    return Specimen(profile=profile, state="as_found")


def test_records_of_two_specimens_mixed_up_are_suspected_first() -> None:
    pair = specimen("alder", 10_000.0, 4.0, 4.0), specimen("birch", 4_000.0, 10.0, 10.0)
    links = [link for link in chain_among(pair, margin_s=0.001) if link.link == "parts-bench"]
    assert [link.verdict for link in links] == ["disagree", "disagree"]
    assert ["birch" in links[0].look_at[0], "alder" in links[1].look_at[0]] == [True, True]


def test_boards_swapped_after_the_bench_are_suspected_from_the_hand() -> None:
    pair = specimen("alder", 4_000.0, 4.0, 10.0), specimen("birch", 10_000.0, 10.0, 4.0)
    links = [link for link in chain_among(pair, margin_s=0.001) if link.link == "bench-hand"]
    assert all("mixed up" in link.look_at[0] for link in links)
    assert len(links) == 2


def test_a_specimen_alone_has_nobody_to_be_mixed_up_with() -> None:
    (link,) = (
        link
        for link in chain_among([specimen("alder", 10_000.0, 4.0, 4.0)], margin_s=0.001)
        if link.link == "parts-bench"
    )
    assert not any("mixed up" in hint for hint in link.look_at)


@pytest.mark.parametrize(("dielectric", "suspected"), [("X7R", True), ("C0G", False)])
def test_a_meter_reads_a_class_2_capacitor_without_its_voltage(dielectric: str, suspected: bool) -> None:
    (link,) = (
        link
        for link in chain_among([specimen("alder", 10_000.0, 6.0, 6.0, dielectric)], margin_s=0.001)
        if link.link == "parts-bench"
    )
    assert ("class-2" in link.look_at[0]) == suspected


@pytest.mark.parametrize(
    ("noted_ohm", "bench_ms", "suspected"),
    [
        (10_000.0, 1.0, "r1 or c1 read ten times too large"),
        (400.0, 4.3, "r1 read ten times too small"),
        (10_000.0, 4.0, ""),
    ],
)
def test_a_part_read_ten_times_off_is_suspected_by_name(noted_ohm: float, bench_ms: float, suspected: str) -> None:
    """Behind 300 ohm of the source, 400 instead of 4000 ohm make the delay 6 times too short, not 10 times."""
    alone = specimen("alder", noted_ohm, bench_ms, bench_ms, source_ohm=300.0 if noted_ohm < 1000.0 else 0.0)
    (link,) = (link for link in chain_among([alone], margin_s=0.001) if link.link == "parts-bench")
    assert link.verdict == "disagree"
    assert link.look_at[0] == suspected if suspected else not any("ten times" in hint for hint in link.look_at)


def test_boards_that_no_hand_recorded_are_held_against_each_other() -> None:
    boards = [specimen("alder", 4_000.0, 4.0, 4.0), specimen("birch", 9_000.0, 9.0, 9.0)]
    bare = [replace(board, profile=replace(board.profile, hand=())) for board in boards]
    found = compare_specimens(bare[0], bare[1:], margin_ms=1.0)
    assert {row.sources for row in found.metrics} == {("bench", "bench")}
    assert len(found.chain) == 2
    assert [caveat.code for caveat in found.caveats] == ["within_capture_only"]


@pytest.mark.parametrize(
    ("hand_ms", "verdict"), [(4.2, "agree"), (4.8, "cannot_tell"), (5.3, "cannot_tell"), (6.0, "disagree")]
)
def test_what_a_quick_filter_may_hide_does_not_shrink_with_sessions(hand_ms: float, verdict: str) -> None:
    """0.3 report intervals of 1 ms, normal: agreement up to 1 - 1.645 x 0.3 ms, disagreement from 1 + 1.96 x 0.3 ms."""
    alone = specimen("alder", 4_000.0, 4.0, hand_ms)
    interval = Estimate.measured("report_interval", 1e-3, u=1e-9, unit="s")
    sessions = [replace(alone.hand[0], session=f"s{k}", report_interval=interval) for k in range(12)]
    often = replace(alone, profile=replace(alone.profile, hand=tuple(sessions)))
    (link,) = (link for link in chain_among([often], margin_s=0.001) if link.link == "bench-hand")
    assert link.difference.u == pytest.approx(3e-4, rel=0.02)
    assert (link.measured.u or 1.0) < 5e-5, "the interval that is shown is the hand's own"
    assert link.verdict == verdict
