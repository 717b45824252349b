"""Before and after on the bench: verdicts, the part it fits, both edges in one picture; captures against hands."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.errors import NotComparableError
from feelcheck.model import BenchRecord, Comparison, Estimate, HandRecord, Making, Part, Profile, StateRecord, Trace
from feelcheck.pipeline._adding import add_capture
from feelcheck.pipeline._compare import compare, compare_specimens
from feelcheck.pipeline._gathering import gathered
from feelcheck.pipeline._record_edits import new_profile
from feelcheck.pipeline._specimens import Specimen
from feelcheck.profiles import read_profile

DRIVE_MS = 2.0


def write_step(path: Path, tau_ms: float, seed: int, onset_ms: float = 5.0) -> Path:
    """A pole behind a ramp, up and down, in closed form; the ramp's middle is DRIVE_MS / 2 after the onset."""
    rng = np.random.default_rng(seed)
    t_ms = 0.1 * np.arange(700)
    up, down = t_ms - onset_ms, t_ms - onset_ms - 30.0

    def ramp(t: Any) -> Any:
        return np.clip(t, 0, DRIVE_MS) / DRIVE_MS

    def behind(t: Any) -> Any:
        on, off = np.clip(t, 0, None), np.clip(t - DRIVE_MS, 0, None)
        return (on - tau_ms * -np.expm1(-on / tau_ms) - off + tau_ms * -np.expm1(-off / tau_ms)) / DRIVE_MS

    coil = ramp(up) - ramp(down) + 0.002 * rng.standard_normal(t_ms.size)
    volts = 0.2 + 1.4 * (behind(up) - behind(down)) + 0.003 * rng.standard_normal(t_ms.size)
    rows = "".join(f"{t:.2f},{u:.4f},{v:.4f}\n" for t, u, v in zip(t_ms, coil, volts, strict=True))
    path.parent.mkdir(exist_ok=True)
    path.write_text("Time (ms),Coil (A),Sensor (V)\n" + rows)
    return path


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two folders of repeats: 4.7 kohm with 1 uF, and with 100 nF; the field is stepped at other instants."""
    root = tmp_path_factory.mktemp("bench")
    for k in range(2):
        write_step(root / "before" / f"{k}.csv", 4.7, k)
        write_step(root / "after" / f"{k}.csv", 0.47, 10 + k, onset_ms=8.0)
    return root


@pytest.fixture(scope="module")
def changed(bench: Path) -> Comparison:
    sides = str(bench / "before" / "0.csv"), [str(bench / "after" / "0.csv")]
    return compare(*sides, resistor="4.7k")


def test_the_capture_of_a_record_is_measured_anew_as_it_was_told(tmp_path: Path) -> None:
    """Columns without a time, and another axis first in one of the records."""
    sides = [new_profile(name, tmp_path / "profiles") for name in ("alder", "birch")]
    for k, side in enumerate(sides):
        place = write_step(tmp_path / f"{k}.csv", 4.7, k)
        place.write_text("".join(line.partition(",")[2] + "\n" for line in place.read_text().splitlines()))
        for axis in ("left_y", "left_x")[k:]:
            told = add_capture(side, [place], axis=axis, interval=1e-4 if k else "100us").told
            assert told == {"interval": "0.0001 s" if k else "100us"}
        assert [record.told for record in read_profile(side).bench] == [told] * (2 - k)
    rising, _ = compare(sides[0], sides[1], tails=True).traces
    assert rising.arrays["now_t_s"][-1] - rising.arrays["now_t_s"][0] < 70e-3


def test_a_page_measures_a_capture_as_its_record_was_told(tmp_path: Path) -> None:
    record = new_profile("alder", tmp_path / "profiles")
    place = write_step(tmp_path / "step.csv", 4.7, 1)
    place.write_text(place.read_text().replace("Time (ms)", "Time"))
    added = add_capture(record, [place], axis="left_x", time_unit="ms")
    (shown,) = gathered(Making(references=(str(record),))).bench
    assert shown.rising is not None
    assert shown.rising.time_constant.value == added.directions["rising"]["time_constant"].value
    assert shown.rising.time_constant.value == pytest.approx(4.7e-3, rel=0.02)


def test_verdicts_on_captures_come_with_their_own_rates(changed: Comparison) -> None:
    assert {row.kind for row in changed.rates} == {"capture"}


def test_two_captures_tell_what_changed_and_which_part_it_fits(changed: Comparison) -> None:
    delays = {row.direction: row for row in changed.metrics if row.name == "time_constant"}
    for row in delays.values():
        assert row.difference.value == pytest.approx(-4.23e-3, rel=0.02)
        assert (row.verdict, row.scope) == ("undecided", "within_recording")
    fitting = [change.change for change in changed.changes if change.fits]
    assert fitting == ["1 uF exchanged for 100 nF", "4.7 kohm exchanged for 470 ohm"]
    assert {caveat.code for caveat in changed.caveats} == {"within_capture_only"}


def test_both_edges_start_with_the_drive_and_the_prediction_lies_on_the_measured_edge(changed: Comparison) -> None:
    rising = next(trace for trace in changed.traces if trace.labels["direction"] == "rising")
    for side in ("before", "now"):
        t_s, drive = np.asarray(rising.arrays[f"{side}_t_s"]), np.asarray(rising.arrays[f"{side}_drive"])
        assert np.interp(0.0, t_s, drive) == pytest.approx(0.5, abs=0.06)
    assert rising.labels["predicted"] == "1 uF exchanged for 100 nF"
    measured = np.interp(rising.arrays["predicted_t_s"], rising.arrays["now_t_s"], rising.arrays["now_output"])
    assert np.max(np.abs(measured - rising.arrays["predicted_output"])) < 0.03


def test_a_fitted_part_is_named_and_no_prediction_is_drawn_from_its_own_edge(bench: Path, tmp_path: Path) -> None:
    bare = write_step(tmp_path / "bare" / "0.csv", 0.02, 30)
    found = compare(str(bare), [str(bench / "before" / "0.csv")], resistor="4.7k")
    assert next(change.change for change in found.changes if change.fits) == "1 uF fitted"
    assert all("predicted_output" not in trace.arrays for trace in found.traces if trace.kind == "before_after")


def test_folders_of_repeats_decide(bench: Path) -> None:
    found = CliRunner().invoke(app, ["compare", str(bench / "before"), str(bench / "after"), "--json"])
    document = json.loads(found.stdout)
    delay = next(m for m in document["metrics"] if (m["name"], m["direction"]) == ("smoothing_delay", "rising"))
    assert (delay["verdict"], delay["detected"], delay["scope"]) == ("different", True, "recording")
    assert (delay["baseline_source"], delay["baseline"]["n"]) == ("bench", 2)
    assert [change["change"] for change in document["part_changes"]] == []


def test_the_answer_comes_first_and_the_picture_is_drawn(bench: Path, tmp_path: Path) -> None:
    sides = [str(bench / "before" / "0.csv"), str(bench / "after" / "0.csv")]
    found = CliRunner().invoke(app, ["compare", *sides, "--capacitor", "1u", "--plot", str(tmp_path / "x.png")])
    assert found.exit_code == 0
    first = " ".join(found.stdout.split("\n\n", maxsplit=1)[0].split())
    assert first.startswith("In these captures, after/0 against before/0: smoothing delay rising 0.4")
    assert "exchanged for" in first
    assert "compare the two folders" in first
    assert (tmp_path / "x.png").stat().st_size > 20_000


# --- sides without a capture ------------------------------------------------------------------------------------------


def ms(value: float) -> Estimate:
    return Estimate.measured("smoothing_delay", value / 1e3, u=5e-5, unit="s", n=2)


def board(name: str, rising: float, falling: float, *, state: str = "as_found", **more: Any) -> Specimen:
    directions = {"rising": {"smoothing_delay": ms(rising)}, "falling": {"smoothing_delay": ms(falling)}}
    record = BenchRecord(axis="left_x", state=state, directions=directions)
    return Specimen(profile=Profile(specimen=name, bench=(record,), **more), state=state)


def stick(name: str, rising: float, falling: float, **more: Any) -> Specimen:
    axes = {"left_x": {"rising": {"smoothing_delay": ms(rising)}, "falling": {"smoothing_delay": ms(falling)}}}
    return Specimen(
        profile=Profile(specimen=name, hand=(HandRecord(session=name, axes=axes),), **more), state="as_found"
    )


@pytest.mark.parametrize(("polarity", "rising_ms"), [(1, 5.0), (-1, 14.0)])
def test_a_capture_against_a_hand_is_joined_by_the_polarity(polarity: int, rising_ms: float) -> None:
    """The code rises while the volts fall where the polarity is -1."""
    found = compare_specimens(board("oak", 5.0, 14.0), [stick("elm", 5.0, 14.0)], margin_ms=1.0, polarity=polarity)
    rising = next(row for row in found.metrics if row.direction == "rising")
    assert rising.baseline.value == pytest.approx(rising_ms / 1e3)
    assert rising.candidate.value == pytest.approx(5e-3)
    assert rising.sources == ("bench", "hand")
    assert (rising.verdict, "on the bench on one side" in rising.why) == ("undecided", True)


def test_an_unknown_polarity_is_asked_for_before_anything_is_measured(tmp_path: Path) -> None:
    write_step(tmp_path / "capture.csv", 4.7, 1)
    (tmp_path / "log.csv").write_text("t_s,left_x,left_y\n0.0,1,2\n")
    with pytest.raises(NotComparableError, match=r"(?s)only the polarity joins.*--polarity 1"):
        compare(str(tmp_path / "capture.csv"), [str(tmp_path / "log.csv")])
    both = [str(tmp_path / "capture.csv"), str(tmp_path / "log.csv")]
    refused = CliRunner().invoke(app, ["compare", *both, "--polarity", "2"])
    assert (refused.exit_code, "A polarity is 1 or -1" in refused.output) == (2, True)


def test_captures_before_hands_where_both_sides_have_captures() -> None:
    mixed = board("oak", 5.0, 5.0, hand=stick("oak", 9.0, 9.0).profile.hand)
    found = compare_specimens(mixed, [board("elm", 7.0, 7.0)], margin_ms=1.0)
    assert {row.sources for row in found.metrics} == {("bench", "bench")}
    assert found.metrics[0].difference.value == pytest.approx(2e-3)


def test_a_noted_change_that_does_not_explain_the_difference_is_said_with_what_would() -> None:
    part = Part(position="c3", role="capacitor", value=1e-6, unit="F", axis="left_x", dielectric="C0G")
    resistor = Part(position="r2", role="series_resistor", value=4700.0, unit="ohm", axis="left_x")
    states = (StateRecord(name="lifted", changes={"c3": "lifted"}),)
    both = [board("birch", 4.7, 4.7), board("birch", 0.47, 0.47, state="lifted")]
    bench = tuple(record for side in both for record in side.profile.bench)
    whole = Profile(specimen="birch", bench=bench, parts=(part, resistor), states=states)
    before, after = (Specimen(profile=whole, state=state) for state in ("as_found", "lifted"))
    found = compare_specimens(before, [after], margin_ms=1.0)
    said = [(change.change, change.fits, change.noted) for change in found.changes]
    assert said[0] == ("c3 lifted", False, True)
    assert ("c3, 1 uF exchanged for 100 nF", True, False) in said


def test_parts_alone_are_a_prediction_for_a_capture_too() -> None:
    parts = (
        Part(position="r1", role="series_resistor", value=9000.0, unit="ohm", axis="left_x"),
        Part(position="c1", role="capacitor", value=1e-6, unit="F", axis="left_x", dielectric="C0G"),
    )
    oak = Specimen(profile=Profile(specimen="oak", parts=parts), state="as_found")
    found = compare_specimens(board("elm", 5.0, 5.0), [oak], margin_ms=1.0)
    assert found.metrics[0].difference.value == pytest.approx(4.1e-3, rel=0.01), (
        "and 0.09 ms for what a 1 uF pole is allowed"
    )
    assert found.metrics[0].sources == ("bench", "parts")


def test_the_trace_of_an_edge_without_a_drive_starts_at_its_onset() -> None:
    from feelcheck.pipeline._before_after import _zero_s

    assert _zero_s(Trace(kind="edge", axis="out", arrays={"t_s": np.arange(3.0)}, marks={"onset_s": 1.5})) == 1.5


def test_records_get_the_edges_of_their_captures_while_these_are_at_hand_unchanged(tmp_path: Path) -> None:
    captures = [write_step(tmp_path / "scope" / f"{name}.csv", tau, 3) for name, tau in (("one", 4.7), ("two", 0.47))]
    sides = [new_profile(name, tmp_path / "profiles") for name in ("alder", "birch")]
    for side, place in zip(sides, captures, strict=True):
        add_capture(side, [place], axis="left_x")
    drawn = compare(sides[0], sides[1], tails=True).traces
    assert [trace.labels["direction"] for trace in drawn if trace.kind == "before_after"] == ["rising", "falling"]
    assert not compare(sides[0], sides[1]).traces
    captures[1].write_text(captures[1].read_text() + "0.0,0.0,0.0\n")
    assert not [trace for trace in compare(sides[0], sides[1], tails=True).traces if trace.kind == "before_after"]
