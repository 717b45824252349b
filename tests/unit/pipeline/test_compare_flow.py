"""Comparisons from records: what is held against what, and what is refused before any verdict."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from feelcheck.errors import FormatError, NotComparableError, NotEnoughDataError, OutputError
from feelcheck.model import Condition, Estimate, HandRecord, Part, Profile
from feelcheck.pipeline import _repeatability, repeatability
from feelcheck.pipeline._compare import compare_specimens
from feelcheck.pipeline._specimens import Specimen


def session(ms: float, mounting: int | None, **more: Any) -> HandRecord:
    delay = Estimate.measured("smoothing_delay", ms / 1e3, u=1e-4, unit="s", n=8)
    return HandRecord(
        session=f"s{ms}_{mounting}",
        axes={"left_x": {"rising": {"smoothing_delay": delay}}},
        **{"condition": Condition(mounting=mounting), **more},
    )


def specimen(name: str, *sessions: HandRecord, **more: Any) -> Specimen:
    return Specimen(profile=Profile(specimen=name, hand=sessions, **more), state="as_found")


ALDER = specimen("alder", *(session(ms, k) for k, ms in enumerate((5.0, 5.1, 4.9))))
BIRCH = specimen("birch", *(session(ms, k) for k, ms in enumerate((9.0, 9.2, 8.8))))


@pytest.mark.parametrize(
    ("margin_ms", "verdict", "detected"),
    [(1.0, "different", True), (5.0, "equivalent", True), (4.0, "different", True)],
)
def test_the_margin_decides_between_different_and_equivalent(margin_ms: float, verdict: str, detected: bool) -> None:
    """A difference of 4.0 +- 0.13 ms is seen in any case; within 5 ms it does not matter."""
    (row,) = compare_specimens(ALDER, [BIRCH], margin_ms=margin_ms).metrics
    assert row.difference.value == pytest.approx(0.004)
    assert row.margin == pytest.approx(margin_ms / 1e3)
    assert (row.verdict, row.detected, row.scope) == (verdict, detected, "mounting")


def test_swapping_the_sides_turns_the_sign_only() -> None:
    (forth,) = compare_specimens(ALDER, [BIRCH], margin_ms=1.0).metrics
    (back,) = compare_specimens(BIRCH, [ALDER], margin_ms=1.0).metrics
    assert back.difference.value == pytest.approx(-(forth.difference.value or 0.0))
    assert (back.difference.u, back.p_difference) == pytest.approx((forth.difference.u, forth.p_difference))
    assert back.verdict == forth.verdict


def test_the_order_of_sessions_does_not_matter() -> None:
    turned = specimen("birch", *reversed(BIRCH.profile.hand))
    one, other = (compare_specimens(ALDER, [b], margin_ms=1.0).metrics[0] for b in (BIRCH, turned))
    assert (one.difference.value, one.difference.u) == pytest.approx((other.difference.value, other.difference.u))


def test_a_simulated_side_is_said_and_never_held_against_a_real_one() -> None:
    simulated = [
        specimen(s.profile.specimen, *(replace(h, simulated=True) for h in s.profile.hand)) for s in (ALDER, BIRCH)
    ]
    found = compare_specimens(simulated[0], [simulated[1]], margin_ms=1.0)
    assert "simulated" in {caveat.code for caveat in found.caveats}
    with pytest.raises(NotComparableError, match="a simulated side against a real one"):
        compare_specimens(ALDER, [simulated[1]], margin_ms=1.0)


def test_unlike_conditions_are_named() -> None:
    other = specimen("birch", session(9.0, 1, condition=Condition(mounting=1, facts={"script": "slow"})))
    base = specimen("alder", session(5.0, 1, condition=Condition(mounting=1, facts={"script": "quick"})))
    with pytest.raises(NotComparableError, match="script: quick against slow"):
        compare_specimens(base, [other], margin_ms=1.0)


def test_both_sides_need_a_hand_or_at_least_parts() -> None:
    with pytest.raises(NotEnoughDataError, match=r"(?s)hand sessions on both sides.*specimen: oak"):
        compare_specimens(ALDER, [specimen("oak")], margin_ms=1.0)
    with pytest.raises(NotEnoughDataError, match=r"(?s)hand sessions on both sides.*specimen: oak"):
        compare_specimens(specimen("oak"), [ALDER], margin_ms=1.0)


def test_a_side_without_a_hand_is_predicted_and_decides_nothing() -> None:
    parts = (
        Part(position="r1", role="series_resistor", value=9000.0, unit="ohm", axis="left_x", tolerance_fraction=0.0),
        Part(position="c1", role="capacitor", value=1e-6, unit="F", axis="left_x", dielectric="C0G",
             tolerance_fraction=0.0),
    )  # fmt: skip
    found = compare_specimens(ALDER, [specimen("oak", parts=parts)], margin_ms=1.0)
    rising = next(row for row in found.metrics if row.direction == "rising")
    assert rising.difference.value == pytest.approx(0.004, rel=1e-3)
    assert {row.verdict for row in found.metrics} == {"undecided"}
    assert [caveat.code for caveat in found.caveats] == ["predicted"]


def test_recordings_of_one_mounting_are_said_to_be_no_reassembly() -> None:
    pair = [
        specimen(name, *(session(ms + 0.1 * k, None) for k in range(3)))
        for name, ms in (("alder", 5.0), ("birch", 9.0))
    ]
    found = compare_specimens(pair[0], [pair[1]], margin_ms=1.0)
    assert found.metrics[0].scope == "recording"
    assert len(found.caveats) == 1


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder operator/specimen/recording whose recordings answer by their own names, in ms."""
    for operator, shift in (("ada", 0.0), ("mo", 2.0)):
        for name, base in (("alder", 1.0), ("birch", 5.0)):
            for repeat in (0.0, 2.0):
                path = tmp_path / operator / name / f"{base + shift + repeat}.csv"
                path.parent.mkdir(parents=True, exist_ok=True)
                path.touch()
    monkeypatch.setattr(_repeatability, "analyze", lambda path: path)
    monkeypatch.setattr(_repeatability, "hand_record_of", lambda path: session(float(path.stem), None))
    return tmp_path


def test_a_study_of_folders_is_one_of_its_recordings(study: Path) -> None:
    # The same readings as on paper: pooled error 1.6, operators 1.6, specimens 7.6 ms^2.
    found = repeatability(study, axis="left_x")
    assert (found.n_operators, found.n_specimens, found.n_repeats, found.unit) == (2, 2, 2, "s")
    assert found.anova["specimens"] == pytest.approx(1e-3 * 7.6**0.5)
    assert repeatability(study).anova == pytest.approx(found.anova)


@pytest.mark.parametrize("asked", [{"metric": "rest_noise"}, {"axis": "right_x"}, {"direction": "falling"}])
def test_every_recording_of_a_study_answers_the_metric(study: Path, asked: dict[str, str]) -> None:
    with pytest.raises(NotEnoughDataError, match="Every recording of a gauge study must answer the metric"):
        repeatability(study, **asked)


def test_a_study_is_a_folder_of_folders_or_a_table(tmp_path: Path) -> None:
    with pytest.raises(NotEnoughDataError, match="operator/specimen/recording"):
        repeatability(tmp_path)
    with pytest.raises(FormatError, match="no such file or folder"):
        repeatability(tmp_path / "nowhere")


def test_the_page_needs_a_file_that_can_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from feelcheck.pipeline import _report

    monkeypatch.setattr(_report, "report_html", lambda page, **marks: "<html>")
    page: Any = SimpleNamespace()
    assert _report.write_report(page, tmp_path / "page.html").read_text() == "<html>"
    with pytest.raises(OutputError, match="written as HTML"):
        _report.write_report(page, tmp_path)
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(OutputError, match="not of a folder"):
        _report.write_report(page, tmp_path / "folder.html")


def test_the_demo_needs_its_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from feelcheck.pipeline import _demo

    assert _demo.shipped("profiles").is_dir()
    monkeypatch.setattr("importlib.resources.files", lambda package: tmp_path / "feelcheck")
    with pytest.raises(FormatError, match="data that ships with the tool"):
        _demo.shipped("profiles")
