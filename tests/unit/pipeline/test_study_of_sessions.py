"""A gauge study from a folder of sessions: operator, specimen and script come from their headers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from feelcheck.errors import NotComparableError, NotEnoughDataError
from feelcheck.model import Condition, Estimate, HandRecord, Profile, SessionOnShelf
from feelcheck.pipeline import _hand, _repeatability, _specimens
from feelcheck.pipeline._pairing import check_like
from feelcheck.pipeline._repeatability import repeatability
from feelcheck.pipeline._specimens import Specimen, side_of

READINGS = {"ada": {"alder": (1.0, 3.0), "birch": (5.0, 7.0)}, "mo": {"alder": (3.0, 5.0), "birch": (7.0, 9.0)}}


def session(folder: Path, operator: str, specimen: str, **more: Any) -> SessionOnShelf:
    blank: dict[str, Any] = {"state": "as_found", "script": "default", "source": "gamepad", "started": "",
                             "recording": "complete"}  # fmt: skip
    return SessionOnShelf(folder=folder, operator=operator, specimen=specimen, **{**blank, **more})


Shelf = Callable[..., list[SessionOnShelf]]


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shelf:
    """Sessions named by their reading in ms; `more` are added to the balanced study."""
    found: list[SessionOnShelf] = []
    for operator, own in READINGS.items():
        for specimen, values in own.items():
            found += [session(tmp_path / f"{operator}_{specimen}_{value}", operator, specimen) for value in values]

    def filled(*more: SessionOnShelf) -> list[SessionOnShelf]:
        found.extend(more)
        for one in found:
            one.folder.mkdir(exist_ok=True)
            (one.folder / "datapackage.json").touch()
        return found

    def value_of(folder: Path, *_: str) -> tuple[float, str]:
        return float(folder.name.split("_")[2]) / 1e3, "s"

    monkeypatch.setattr(_repeatability, "sessions_on_shelf", lambda _: tuple(found))
    monkeypatch.setattr(_repeatability, "_one_value", value_of)
    return filled


def test_the_study_is_that_of_its_readings(shelf: Shelf, tmp_path: Path) -> None:
    shelf()
    found = repeatability(tmp_path)
    # As on paper: pooled error 1.6, operators 1.6, specimens 7.6 ms^2.
    assert (found.n_operators, found.n_specimens, found.n_repeats) == (2, 2, 2)
    assert found.anova["specimens"] == pytest.approx(1e-3 * 7.6**0.5)
    assert [caveat.code for caveat in found.caveats] == ["small_study"]


def test_what_is_too_many_is_left_out_and_said_and_unfinished_ones_do_not_count(shelf: Shelf, tmp_path: Path) -> None:
    shelf(
        session(tmp_path / "ada_alder_99", "ada", "alder"),
        session(tmp_path / "mo_birch_77", "mo", "birch", recording="interrupted"),
    )
    found = repeatability(tmp_path)
    assert found.n_repeats == 2
    assert found.anova["specimens"] == pytest.approx(1e-3 * 7.6**0.5)
    (said,) = [caveat.text for caveat in found.caveats if caveat.code == "uneven_study"]
    assert said.startswith("1 session was left out")


def test_unlike_scripts_and_nameless_operators_are_refused_before_anything_is_measured(
    shelf: Shelf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_repeatability, "_one_value", lambda *_: pytest.fail("it was measured"))
    sessions = shelf(session(tmp_path / "mo_birch_9", "", "birch"))
    with pytest.raises(NotEnoughDataError, match=r"(?s)who held the pad.*mo_birch_9"):
        repeatability(tmp_path)
    sessions[-1] = session(tmp_path / "mo_birch_9", "mo", "birch", script="quick")
    with pytest.raises(NotComparableError, match=r"(?s)script default: 8 sessions.*script quick: 1 session"):
        repeatability(tmp_path)


def test_missing_cells_are_counted_out(shelf: Shelf, tmp_path: Path) -> None:
    shelf(session(tmp_path / "ada_elm_4", "ada", "elm"))
    with pytest.raises(NotEnoughDataError, match=r"(?s)ada, elm: 1.*mo, elm: 0"):
        repeatability(tmp_path)


def test_a_state_is_a_specimen_of_its_own(shelf: Shelf, tmp_path: Path) -> None:
    more = [session(tmp_path / f"{operator}_alderb_{value}", operator, "alder", state="b")
            for operator in ("ada", "mo") for value in (2.0, 4.0)]  # fmt: skip
    shelf(*more)
    assert repeatability(tmp_path).n_specimens == 3


def test_sessions_of_unlike_scripts_are_refused_by_their_headers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_hand, "analyze", lambda _: pytest.fail("it was measured"))
    scripts = {"one": "default", "two": "quick"}
    for name in scripts:
        (tmp_path / name).mkdir()
        (tmp_path / name / "datapackage.json").touch()
    monkeypatch.setattr(
        _specimens, "sessions_on_shelf", lambda path: (session(path, "ada", "alder", script=scripts[path.name]),)
    )
    one, two = (side_of(str(tmp_path / name)) for name in scripts)
    with pytest.raises(NotComparableError, match="script: default against quick"):
        check_like(one, [two])
    delay = {"left_x": {"rising": {"smoothing_delay": Estimate.measured("smoothing_delay", 5e-3, u=1e-4, unit="s")}}}
    noted = HandRecord(session="old", condition=Condition(facts={"script": "default"}), axes=delay)
    record = Specimen(profile=Profile(specimen="birch", hand=(noted,)), state="as_found")
    check_like(record, [one])
    with pytest.raises(NotComparableError, match="script: default against quick"):
        check_like(record, [two])
