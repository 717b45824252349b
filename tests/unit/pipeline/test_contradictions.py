"""One file, two values: noticed where they lie farther apart than their intervals; unfinished sessions are left out."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from feelcheck.model import BenchRecord, Estimate, HandRecord, Profile
from feelcheck.pipeline import _gathering
from feelcheck.pipeline._contradictions import contradictions
from feelcheck.pipeline._specimens import Specimen, is_unfinished

SHIPPED = Path(__file__).parents[3] / "demo_logs"


def delay(value_ms: float, u_ms: float = 0.015) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=u_ms / 1e3, unit="s")


def bench(name: str, value_ms: float, sha256: str = "a") -> Specimen:
    record = BenchRecord(
        axis="left_x", path="birch.csv", sha256=sha256, directions={"falling": {"smoothing_delay": delay(value_ms)}}
    )
    return Specimen(profile=Profile(specimen=name, bench=(record,)), state="as_found")


def hand(name: str, value_ms: float) -> Specimen:
    record = HandRecord(session="one", sha256="b", axes={"left_x": {"rising": {"smoothing_delay": delay(value_ms)}}})
    return Specimen(profile=Profile(specimen=name, hand=(record,)), state="as_found")


def test_two_records_that_tell_one_capture_unlike_are_named_with_both_values() -> None:
    (caveat,) = contradictions([bench("birch", 13.97), bench("birch_2", 14.05)], [])
    assert caveat.text.startswith("birch.csv, falling: the record of birch says 13.97 ms")
    assert "the record of birch_2 14.05 ms" in caveat.text


def test_a_session_is_held_by_axis_and_direction() -> None:
    (caveat,) = contradictions([hand("elm", 2.0), hand("elm_2", 3.0)], [])
    assert caveat.text.startswith("one, left_x rising: the record of elm says 2.00")


@pytest.mark.parametrize(
    "specimens",
    [
        [bench("birch", 13.97), bench("birch_2", 13.98)],
        [bench("birch", 13.97), bench("birch_2", 14.05, sha256="c")],
        [bench("birch", 13.97, sha256=""), bench("birch_2", 14.05, sha256="")],
        [bench("birch", 13.97)],
    ],
    ids=["inside their intervals", "another file", "no hash", "alone"],
)
def test_what_may_differ_is_left_alone(specimens: list[Specimen]) -> None:
    assert contradictions(specimens, []) == ()


def test_an_unfinished_session_is_left_out_of_a_page_and_named(tmp_path: Path) -> None:
    said: list[str] = []
    session, whole = tmp_path / "sessions" / "alder_2", SHIPPED / "alder_as_found"
    session.mkdir(parents=True)
    header = (whole / "datapackage.json").read_text(encoding="utf-8").replace('"complete"', '"interrupted"')
    (session / "datapackage.json").write_text(header, encoding="utf-8")
    (session / "events.csv").write_text("t_lo_ns,t_hi_ns,kind,name,value,end\n", encoding="utf-8")
    assert is_unfinished(session)
    assert not is_unfinished(whole)
    assert _gathering._finished([str(whole), str(session)], said.append) == (str(whole),)
    assert "log --resume" in said[0]
    shutil.copytree(whole, session.parent / "alder_1")
    assert _gathering._finished([str(session.parent)], said.append) == (str(session.parent),)
    assert said[-1].endswith(str(session))
    assert _gathering._finished([str(session)], said.append) == (str(session),)
