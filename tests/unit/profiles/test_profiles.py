"""A specimen's record: what is written is read back, hand edits survive, wrong keys are named."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feelcheck.errors import ProfileError
from feelcheck.model import (
    BenchRecord,
    Caveat,
    Condition,
    Estimate,
    HandRecord,
    Part,
    Profile,
    SensorFound,
    StateRecord,
)
from feelcheck.numerics.si_values import format_si, parse_si
from feelcheck.profiles import (
    add_bench,
    add_hand,
    add_part,
    add_state,
    note_polarity,
    read_profile,
    write_profile,
)

TAU = Estimate.measured("time_constant", 0.0047, u=0.0001, unit="s", n=6, dof=5.0, scale="log")
BOUND = Estimate.at_most("time_constant", 0.0004, unit="s", caveats=(Caveat(code="c", text="t", advice="a"),))
BENCH = BenchRecord(
    axis="left_x",
    path="birch.csv",
    sha256="ab12",
    drive_kind="coil_current",
    directions={"rising": {"time_constant": TAU}, "falling": {"time_constant": BOUND}},
    overall={"noise": Estimate.measured("noise", 0.002, u=0.0001, unit="V")},
    models={"rising": "one_pole"},
    simulated=True,
)
HAND = HandRecord(
    session="birch_1",
    sha256="cd34",
    condition=Condition(facts={"script": "default"}, mounting=2, operator="mo"),
    axes={"left_x": {"": {"update_interval": BOUND.renamed("update_interval")}, "rising": {"time_constant": TAU}}},
    release={"ring_frequency": Estimate.measured("ring_frequency", 41.0, u=0.5, unit="Hz")},
    report_interval=Estimate.measured("report_interval", 0.001, u=1e-7, unit="s"),
)
BIRCH = Profile(
    specimen="birch",
    pad="loaner 7",
    stick="left",
    sensor=SensorFound(marking="H3", supply_v=1.8),
    polarity={"left_x": -1},
    parts=(Part(position="c3", role="capacitor", value=1e-6, unit="F", axis="left_x", size_code="0402"),),
    photos=("birch_top.jpg",),
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "birch.toml"
    write_profile(BIRCH, path)
    return path


def test_a_record_is_read_back_as_written(file: Path) -> None:
    found = read_profile(file)
    assert found == Profile(**{**{f: getattr(BIRCH, f) for f in BIRCH.__dataclass_fields__}, "path": str(file)})


def test_results_are_read_back_as_added(file: Path) -> None:
    add_bench(file, BENCH)
    found = add_hand(file, HAND)
    assert found.bench == (BENCH,)
    assert found.hand == (HAND,)


def test_comments_and_hand_edits_survive(file: Path) -> None:
    file.write_text(file.read_text(encoding="utf-8").replace("pad =", "# lent to the Tuesday group\npad   ="))
    add_hand(file, HAND)
    assert "# lent to the Tuesday group\npad   = " in file.read_text(encoding="utf-8")


def test_the_same_session_twice_is_refused(file: Path) -> None:
    add_hand(file, HAND)
    before = file.read_bytes()
    with pytest.raises(ProfileError, match="counts once"):
        add_hand(file, HAND)
    assert file.read_bytes() == before


def test_the_same_capture_twice_is_refused(file: Path) -> None:
    add_bench(file, BENCH)
    with pytest.raises(ProfileError, match="counts once"):
        add_bench(file, BENCH)


def test_an_unknown_key_is_named_with_the_nearest_known_one(file: Path) -> None:
    file.write_text(file.read_text(encoding="utf-8").replace("photos =", "fotos ="))
    with pytest.raises(ProfileError, match="nearest known: photos"):
        read_profile(file)


def test_an_unknown_key_deep_inside_is_refused_too(file: Path) -> None:
    add_hand(file, HAND)
    file.write_text(file.read_text(encoding="utf-8").replace("dof =", "doff ="))
    with pytest.raises(ProfileError, match="nearest known: dof"):
        read_profile(file)


def test_a_value_of_the_wrong_kind_is_refused(file: Path) -> None:
    file.write_text(file.read_text(encoding="utf-8").replace('pad = "loaner 7"', "pad = 7"))
    with pytest.raises(ProfileError, match="wrong kind"):
        read_profile(file)


def test_an_estimate_that_contradicts_itself_is_refused(file: Path) -> None:
    add_hand(file, HAND)
    text = file.read_text(encoding="utf-8").replace(
        'status = "ok", value = 41.0', 'status = "not_resolved", value = 41.0'
    )
    file.write_text(text)
    with pytest.raises(ProfileError, match="contradicts"):
        read_profile(file)


def test_a_missing_file_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="feelcheck profile new"):
        read_profile(tmp_path / "oak.toml")


def test_a_broken_file_names_the_line(tmp_path: Path) -> None:
    (tmp_path / "elm.toml").write_text('specimen = "elm\n')
    with pytest.raises(ProfileError, match="TOML"):
        read_profile(tmp_path / "elm.toml")


def test_an_older_version_is_upgraded_and_a_newer_one_refused(tmp_path: Path) -> None:
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text('name = "cedar"\n')
    new.write_text('version = 99\nspecimen = "cedar"\n')
    assert read_profile(old).specimen == "cedar"
    with pytest.raises(ProfileError, match="Update feelcheck"):
        read_profile(new)


def test_a_new_record_never_replaces_a_file(file: Path) -> None:
    with pytest.raises(ProfileError, match="never replaces"):
        write_profile(BIRCH, file)


def test_the_timeline_knows_its_states_and_parts(file: Path) -> None:
    add_state(file, StateRecord(name="c3_lifted", changes={"c3": "lifted"}))
    with pytest.raises(ProfileError, match="one name"):
        add_state(file, StateRecord(name="c3_lifted"))
    with pytest.raises(ProfileError, match="allowed: c3"):
        add_state(file, StateRecord(name="r9_gone", changes={"r9": "lifted"}))
    with pytest.raises(ProfileError, match=r"Note it first: feelcheck profile state .* sanded"):
        add_hand(file, HandRecord(session="s", state="sanded"))


def test_a_place_on_the_board_is_described_once(file: Path) -> None:
    with pytest.raises(ProfileError, match="described once"):
        add_part(file, BIRCH.parts[0])
    part = Part(position="r2", role="series_resistor", value=4700.0, unit="ohm", axis="left_x")
    assert add_part(file, part).parts[-1] == part
    assert '"4.7k"' in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "value"),
    [("4.7k", 4700), ("4k7", 4700), ("0.56u", 5.6e-7), ("560n", 5.6e-7), ("1µ", 1e-6), ("R47", 0.47), ("10 kohm", 1e4),
     ("2,2n", 2.2e-9), ("1e-6F", 1e-6), ("47", 47.0), ("1M", 1e6), ("1m", 1e-3)],
)  # fmt: skip
def test_component_values_as_people_write_them(text: str, value: float) -> None:
    assert parse_si(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["", "k", "-4k7", "4.7x", "0", "1.2.3", "nan", "inf"])
def test_what_is_no_component_value(text: str) -> None:
    with pytest.raises(ValueError, match="component value"):
        parse_si(text)


@given(value=st.floats(1e-12, 1e9))
def test_a_shown_value_reads_back(value: float) -> None:
    assert parse_si(format_si(value, digits=6)) == pytest.approx(value, rel=1e-5)


def test_a_polarity_noted_late_stands_before_the_tables_and_leaves_the_others(tmp_path: Path) -> None:
    file = tmp_path / "birch.toml"
    write_profile(BIRCH, file)
    assert note_polarity(file, "left_y", -1).polarity == {**BIRCH.polarity, "left_y": -1}
    assert note_polarity(file, "left_y", 1).polarity["left_y"] == 1
    with pytest.raises(ProfileError, match="polarity is 1 or -1"):
        note_polarity(file, "left_y", 0)
    bare = tmp_path / "elm.toml"
    write_profile(Profile(specimen="elm", parts=BIRCH.parts), bare)
    assert note_polarity(bare, "left_x", 1).polarity == {"left_x": 1}
    assert read_profile(bare).parts == BIRCH.parts
