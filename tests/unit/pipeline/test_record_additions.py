"""What does not belong into a record is refused before anything is measured, and leaves the record as it was."""

from __future__ import annotations

import contextlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import CliRunner

from feelcheck import pipeline
from feelcheck.cli import app
from feelcheck.errors import FormatError, ProfileError
from feelcheck.model import Profile
from feelcheck.pipeline import _adding
from feelcheck.pipeline._adding import check_additions
from feelcheck.profiles import write_profile

SHIPPED = Path(__file__).parents[3] / "demo_logs"


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A record of alder; nothing may be measured."""

    def measured(*_: Any, **__: Any) -> None:
        raise AssertionError("measured too early")

    monkeypatch.setattr(_adding, "analyze", measured)
    write_profile(Profile(specimen="alder"), tmp_path / "alder.toml")
    return tmp_path / "alder.toml"


@pytest.mark.parametrize(
    ("add", "error", "told"),
    [
        (lambda record: pipeline.add_session(record, SHIPPED / "birch_as_found"), ProfileError,
         "another specimen.*alder.*birch.*--force"),
        (lambda record: pipeline.add_session(record, SHIPPED / "alder_field_step.csv"), FormatError,
         "one axis of the record.*--axis left_x --polarity 1"),
        (lambda record: pipeline.add_capture(record, [SHIPPED / "alder_as_found"], axis="left_x"), FormatError,
         "tells its axes itself.*Leave --axis out"),
        (lambda record: pipeline.bench(SHIPPED / "alder_as_found"), FormatError,
         "recorded in the hand.*feelcheck analyze .*alder_as_found"),
    ],
)  # fmt: skip
def test_what_does_not_belong_there_is_told_with_the_way_out(
    add: Callable[[Path], Any], error: type[Exception], told: str, record: Path
) -> None:
    before = record.read_bytes()
    with pytest.raises(error, match=f"(?s){told}"):
        add(record)
    assert record.read_bytes() == before


def test_an_unfinished_session_is_to_be_finished_first(record: Path, tmp_path: Path) -> None:
    session = tmp_path / "alder_2"
    shutil.copytree(SHIPPED / "alder_as_found", session)
    header = json.loads((session / "datapackage.json").read_text(encoding="utf-8"))
    text = json.dumps(header).replace('"complete"', '"interrupted"')
    (session / "datapackage.json").write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError, match=r"(?s)Only a finished session.*log --resume"):
        pipeline.add_session(record, session)


@pytest.mark.parametrize(("name", "same"), [("Alder", True), (" alder!", True), ("alder 2", False), ("…", False)])
def test_a_session_is_named_as_its_folder_is(record: Path, tmp_path: Path, name: str, same: bool) -> None:
    session = tmp_path / "alder_2"
    shutil.copytree(SHIPPED / "alder_as_found", session)
    header = (session / "datapackage.json").read_text(encoding="utf-8")
    assert '"specimen": "alder"' in header
    named = header.replace('"specimen": "alder"', f'"specimen": {json.dumps(name)}')
    (session / "datapackage.json").write_text(named, encoding="utf-8")
    with contextlib.nullcontext() if same else pytest.raises(ProfileError, match="another specimen"):
        check_additions(record, [session])


def test_of_several_nothing_is_added_where_one_does_not_belong(record: Path) -> None:
    paths = [str(SHIPPED / name) for name in ("alder_as_found", "birch_as_found")]
    run = CliRunner().invoke(app, ["profile", "add", str(record), *paths])
    assert run.exit_code == 2
    assert "another specimen" in run.stderr


def test_forced_it_is_taken_in_the_state_that_it_names(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: dict[str, Any] = {}
    provenance = SimpleNamespace(state="c3_lifted")
    monkeypatch.setattr(_adding, "analyze", lambda _: SimpleNamespace(recording=SimpleNamespace(provenance=provenance)))
    monkeypatch.setattr(_adding, "hand_record_of", lambda _, **facts: seen.update(facts))
    monkeypatch.setattr(_adding, "add_hand", lambda *_: None)
    pipeline.add_session(record, SHIPPED / "birch_as_found", force=True)
    assert seen["state"] == "c3_lifted"
    pipeline.add_session(record, SHIPPED / "birch_as_found", force=True, state="as_found")
    assert seen["state"] == "as_found"
