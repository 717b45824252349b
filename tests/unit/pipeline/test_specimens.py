"""References to specimens, records made and added to, folders of recordings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from feelcheck import pipeline
from feelcheck.errors import FormatError, ProfileError
from feelcheck.model import HandRecord, Part, Profile, StateRecord
from feelcheck.pipeline._record_edits import part_found, state_step
from feelcheck.pipeline._specimens import Specimen, sessions_in, specimen_of
from feelcheck.pipeline._survey import _kind
from feelcheck.profiles import read_profile, write_profile
from feelcheck.survey.finding import find_files

PROFILE = Profile(
    specimen="elm",
    parts=(Part(position="c3", role="capacitor", value=1e-6, unit="F"),),
    states=(StateRecord(name="c3_lifted", changes={"c3": "lifted"}),),
    hand=(HandRecord(session="one"), HandRecord(session="two", state="c3_lifted")),
)


@pytest.fixture
def record(tmp_path: Path) -> Path:
    write_profile(PROFILE, tmp_path / "elm.toml")
    return tmp_path / "elm.toml"


@pytest.mark.parametrize(
    ("mark", "state", "label", "sessions"),
    [
        ("", "as_found", "elm", ["one"]),
        ("@as_found", "as_found", "elm", ["one"]),
        ("@c3_lifted", "c3_lifted", "elm@c3_lifted", ["two"]),
        ("@c3=100n", "c3=100n", "elm@c3=100n", []),
    ],
)
def test_a_reference_names_a_record_in_a_state(
    record: Path, mark: str, state: str, label: str, sessions: list[str]
) -> None:
    found = specimen_of(f"{record}{mark}")
    assert (found.state, found.label) == (state, label)
    assert [hand.session for hand in found.hand] == sessions


@pytest.mark.parametrize(
    ("mark", "message"),
    [
        ("@gone", "(?s)names a state of the record.*allowed: as_found, c3_lifted"),
        ("@c9=lifted", "(?s)names a part of the record.*allowed: c3"),
        ("@c3=", "place=lifted or place=value"),
        ("@c3=banana", "4.7k or 560n"),
    ],
)
def test_a_reference_to_nothing_says_what_there_is(record: Path, mark: str, message: str) -> None:
    with pytest.raises(ProfileError, match=message):
        specimen_of(f"{record}{mark}")


def test_an_imagined_change_stands_alone(record: Path) -> None:
    """What if speaks of the board as found, whatever was done to it later."""
    assert [state.name for state in specimen_of(f"{record}@c3=lifted").profile.states] == ["c3=lifted"]


@pytest.mark.parametrize("mark", ["@c3=100n", "@as_found"])
def test_only_a_record_has_states_and_parts(tmp_path: Path, mark: str) -> None:
    (tmp_path / "elm.csv").write_text("t_s,x\n0,1\n")
    with pytest.raises(ProfileError, match=rf"(?s)Only a record has states.*got: {mark}"):
        specimen_of(f"{tmp_path / 'elm.csv'}{mark}")


@pytest.mark.parametrize("read", [pipeline.analyze, pipeline.bench])
def test_a_record_is_no_recording_and_no_survey_takes_it_for_one(
    record: Path, tmp_path: Path, read: Callable[[Path], object]
) -> None:
    lines = "".join(f"point_{k} = {{value = {k}.5, u = 0.{k}, n = {k}}}\n" for k in range(20))
    record.write_text(f"{record.read_text()}# more\n{lines}")
    with pytest.raises(FormatError, match="holds no samples or reports"):
        read(record)
    assert [_kind(found) for found in find_files([tmp_path])] == [""]


def test_an_at_sign_in_a_folders_name_is_no_state(tmp_path: Path) -> None:
    folder = tmp_path / "mo@bench"
    folder.mkdir()
    write_profile(PROFILE, folder / "elm.toml")
    assert specimen_of(str(folder / "elm.toml")).state == "as_found"


def test_a_folder_of_recordings_is_read_in_order_of_name(tmp_path: Path) -> None:
    for name in ("b.csv", "a.TXT", "notes.md", "c.log"):
        (tmp_path / name).touch()
    for name in ("session_2", "pictures"):
        (tmp_path / name).mkdir()
    (tmp_path / "session_2" / "datapackage.json").touch()
    assert [path.name for path in sessions_in(tmp_path)] == ["a.TXT", "b.csv", "c.log", "session_2"]
    assert sessions_in(tmp_path / "session_2") == [tmp_path / "session_2"]
    assert sessions_in(tmp_path / "b.csv") == [tmp_path / "b.csv"]


def test_a_folder_without_recordings_and_no_folder_at_all(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="holds at least one"):
        sessions_in(tmp_path)
    with pytest.raises(FormatError, match="no such file or folder"):
        sessions_in(tmp_path / "oak")


@pytest.mark.parametrize("name", ["", "../oak", "two words", "oak.toml"])
def test_a_specimens_name_is_a_file_name(name: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="letters, digits, - and _"):
        pipeline.new_profile(name, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_new_record_holds_what_was_said(tmp_path: Path) -> None:
    path = pipeline.new_profile("oak_2", tmp_path / "new", pad="loaner 7", stick="left", kind="hall")
    found = read_profile(path)
    assert (path.name, found.specimen, found.pad, found.stick, found.kind) == (
        "oak_2.toml", "oak_2", "loaner 7", "left", "hall"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("role", "unit"),
    [
        ("pin_capacitor", "F"),
        ("capacitor", "F"),
        ("supply_capacitor", "F"),
        ("series_resistor", "ohm"),
        ("load", "ohm"),
    ],
)
def test_the_role_tells_the_unit(role: str, unit: str) -> None:
    assert part_found("x1", "100n" if unit == "F" else "4k7", role=role).unit == unit


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"role": "hat"}, "known role and a known origin"),
        ({"measured": "guess"}, "known role and a known origin"),
        ({"value": "many"}, "4.7k or 560n"),
        ({"position": ""}, "place on the board"),
        ({"tolerance_percent": 100.0}, "less than 100 %"),
        ({"tolerance_percent": float("nan")}, "less than 100 %"),
    ],
)
def test_a_part_that_makes_no_sense_is_refused(more: dict[str, object], message: str) -> None:
    told: dict[str, object] = {"position": "c1", "value": "1u", "role": "capacitor", **more}
    with pytest.raises(ProfileError, match=message):
        part_found(**told)  # type: ignore[arg-type]


def test_a_step_of_the_timeline_is_dated_and_keeps_its_changes() -> None:
    step = state_step("c3_lifted", ["c3=lifted", "r1=2k2"], note="by Mo", undone=True)
    assert (dict(step.changes), step.note, step.undone) == ({"c3": "lifted", "r1": "2k2"}, "by Mo", True)
    assert len(step.date) == len("2026-01-02")


@pytest.mark.parametrize("name", ["", "  ", "c3=lifted"])
def test_a_state_that_could_not_be_referred_to_is_refused(name: str, record: Path) -> None:
    with pytest.raises(ProfileError, match="no equals sign"):
        pipeline.note_state(record, StateRecord(name=name))


def test_a_missing_record_is_told_before_anything_is_measured(tmp_path: Path) -> None:
    record, missing = tmp_path / "oak.toml", tmp_path / "nowhere.csv"
    with pytest.raises(ProfileError, match="no such record"):
        pipeline.add_session(record, missing)
    with pytest.raises(ProfileError, match="no such record"):
        pipeline.add_capture(record, [missing], axis="left_x")


def test_a_label_leaves_the_usual_state_out() -> None:
    assert Specimen(profile=PROFILE, state="as_found").label == "elm"


def test_the_pipeline_offers_its_names_and_no_others() -> None:
    assert callable(pipeline.state_step)
    with pytest.raises(AttributeError, match=r"No .* attribute solder"):
        pipeline.solder  # type: ignore[attr-defined]  # noqa: B018
