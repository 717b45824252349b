"""A page held against its files: the same, edited, with files that moved, changed or went, made by another version."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from feelcheck import pipeline
from feelcheck.cli import app
from feelcheck.errors import FormatError
from feelcheck.model import BenchResult, Difference, Evidence, Play
from feelcheck.pipeline._evidence import hashes_of, looked_for
from feelcheck.pipeline._feel import feel_specimens
from feelcheck.pipeline._specimens import Specimen
from feelcheck.pipeline._verify import NOT_DERIVED, document_tallies, sequence_tally
from feelcheck.renderers._panels import Panel, Picture, sheet


def _capture(path: Path, tau_s: float) -> None:
    t_s = np.arange(600) * 2e-4
    since_s, on = t_s % 0.04, t_s % 0.08 >= 0.04
    v = np.where(on, 1 - np.exp(-since_s / tau_s), np.exp(-since_s / tau_s) * (t_s >= 0.08))
    noise = 1e-3 * ((np.arange(600) * 7919) % 13 - 6)
    rows = [f"{t:.6f},{d:.1f},{y:.5f}" for t, d, y in zip(t_s, on.astype(float), v + noise, strict=True)]
    path.write_text("\n".join(["Time (s),Coil (A),Out (V)", *rows]) + "\n")


def _drawn(result: BenchResult) -> dict[str, Picture]:
    """One quick picture in place of the slow ones."""
    panel = Panel(draw=lambda ax: ax.plot([0, 1], [0, result.swing.value or 0.0]), description="edges")
    return {"edges": Picture(sheet=sheet([panel]), title="edges", description="edges")}


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    """Quick pictures, and each capture measured once by its bytes."""
    from feelcheck.pipeline import _gathering, _measuring
    from feelcheck.renderers.report import page

    measured: dict[bytes, Any] = {}
    used: dict[tuple[str, ...], Any] = {}

    anew = _measuring.ToMeasure.measured

    def once(one: _measuring.ToMeasure) -> Any:
        key = Path(one.path).read_bytes()
        measured[key] = measured.get(key) or anew(one)
        return measured[key]

    def feel_once(specimens: Sequence[Specimen], play: Play) -> Any:
        key = tuple(specimen.label for specimen in specimens)
        used[key] = used.get(key) or feel_specimens(specimens, play)
        return used[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_measuring.ToMeasure, "measured", once)
        patch.setattr(_gathering, "feel_specimens", feel_once)
        patch.setattr(page, "bench_pictures", _drawn)
        patch.setattr(page, "front_pictures", lambda rows: ())
        patch.setattr(page, "feel_pictures", lambda results: {})
        yield


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bench of two records, each with a part and a capture, and the page about them."""
    bench = tmp_path_factory.mktemp("bench")
    for name, tau_s in (("oak", 4.7e-3), ("fir", 1e-3)):
        record = pipeline.new_profile(name, bench / "profiles")
        (bench / "captures").mkdir(exist_ok=True)
        capture = bench / "captures" / f"{name}.csv"
        _capture(capture, tau_s)
        pipeline.add_capture(record, [capture], axis="left_x")
    pipeline.report([bench / "profiles" / f"{name}.toml" for name in ("oak", "fir")], bench / "page.html")
    return bench


@pytest.fixture
def bench(made: Path, tmp_path: Path) -> Path:
    """The bench moved elsewhere, so that nothing lies where it was when the page was made."""
    for name in ("profiles", "captures"):
        shutil.copytree(made / name, tmp_path / name)
    text = (made / "page.html").read_text().replace(str(made), "/gone/bench")
    (tmp_path / "page.html").write_text(text)
    return tmp_path


def _run(*words: object) -> Result:
    return CliRunner().invoke(app, ["verify", *map(str, words)])


def _edited(page: Path, before: str, after: str) -> None:
    text = page.read_text()
    assert before in text
    page.write_text(text.replace(before, after, 1))


def test_an_untouched_page_is_the_same_to_the_last_letter(made: Path) -> None:
    found = pipeline.verify(made / "page.html")
    assert found.proved
    assert found.identical
    assert found.numbers.total > 200
    assert found.numbers.same == found.numbers.total
    assert {check.state for check in found.files} == {"same"}
    assert [check.evidence.kind for check in found.files] == ["reference", "reference", "capture", "capture"]
    assert len(found.to_frame()) == 4


def test_files_that_moved_with_the_page_are_found_beside_it(bench: Path) -> None:
    run = _run(bench / "page.html")
    assert run.exit_code == 0, run.output
    assert "numbers are the same. Drawn again, the page is the same to the last letter." in run.stdout
    assert "measuring the capture of oak" in run.stderr


def test_files_are_looked_for_in_a_folder_at_any_depth(bench: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    page = tmp_path_factory.mktemp("mail") / "page.html"
    (bench / "page.html").rename(page)
    assert _run(page).exit_code == 1
    (bench / "old" / "profiles").mkdir(parents=True)
    (bench / "old" / "profiles" / "oak.toml").write_text('version = 1\nspecimen = "oak"\n')
    assert _run(page, "--files", bench).exit_code == 0
    refused = _run(page, "--files", bench / "nowhere")
    assert refused.exit_code == 2
    assert "looked for in a folder" in refused.stderr


def test_a_number_that_was_edited_in_the_data_is_named(bench: Path) -> None:
    page = bench / "page.html"
    document = json.loads(page.read_text().partition('id="feelcheck-data">')[2].partition("</script>")[0])
    value = document["bench"][0]["rising"]["time_constant"]["value"]
    _edited(page, f'"value": {value}', f'"value": {value * 1.0001:.9g}')
    run = _run(page, "--json")
    assert run.exit_code == 1
    told = json.loads(run.stdout)
    (where,) = [one["where"] for one in told["numbers"]["differences"]]
    assert where.endswith("captures/oak.csv.rising.time_constant.value")
    assert told["numbers"]["different"] == 1
    assert not told["proved"]


def test_a_number_that_was_edited_in_a_table_is_named(bench: Path) -> None:
    _edited(bench / "page.html", ">4.699 ms (", ">0.47 ms (")
    run = _run(bench / "page.html")
    assert run.exit_code == 1
    assert "What the page shows otherwise" in run.stdout
    assert "0.47" in run.stdout.partition("What the page shows otherwise")[2]


@pytest.mark.parametrize("edit", [("<path d=\"M", "<path d=\"M1"), ("</main>", "<!-- -->\n</main>"),
                                  ("border-collapse", "border-colapse")])  # fmt: skip
def test_a_picture_or_the_markup_that_was_edited_is_noticed(bench: Path, edit: tuple[str, str]) -> None:
    _edited(bench / "page.html", *edit)
    found = pipeline.verify(bench / "page.html")
    assert not found.proved
    assert found.numbers.same == found.numbers.total
    assert [one.where for one in found.shown.differences] in (["picture 1"], ["markup"])


def test_a_changed_and_a_missing_file_are_told_apart_and_the_rest_is_derived(bench: Path) -> None:
    with (bench / "captures" / "oak.csv").open("a") as stream:
        stream.write("0.12,0,0\n")
    (bench / "captures" / "fir.csv").unlink()
    found = pipeline.verify(bench / "page.html")
    states = {Path(check.evidence.path).name: check.state for check in found.files}
    assert states == {"oak.toml": "same", "fir.toml": "same", "oak.csv": "changed", "fir.csv": "missing"}
    assert found.numbers.different == 0
    assert found.numbers.same > 20
    assert found.numbers.not_derived > 100
    assert found.shown.total == 0
    assert not found.proved


def test_a_changed_record_leaves_what_its_capture_says(bench: Path) -> None:
    with (bench / "profiles" / "oak.toml").open("a") as stream:
        stream.write("# a remark\n")
    run = _run(bench / "page.html")
    assert run.exit_code == 1
    assert "changed since" in run.stdout
    assert "Without the same references" in run.stdout
    assert "could not be derived again" in run.stdout


def test_another_version_is_told_and_nothing_is_called_edited(bench: Path) -> None:
    text = (bench / "page.html").read_text()
    (bench / "page.html").write_text(text.replace('"feelcheck version": "', '"feelcheck version": "0.0.9+'))
    run = _run(bench / "page.html")
    assert run.exit_code == 0
    assert "made with other versions: feelcheck 0.0.9+" in run.stdout
    assert "not drawn again" in run.stdout


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("Made by feelcheck: report page.", "Made by hand", "Only a page that"),
        ('id="feelcheck-data"', 'id="other"', "one block of data"),
        ('"made": {', '"made_up": {', "does not tell what it was made from"),
        ('"margin_ms": 1.0', '"margin_ms": -1', "in one form"),
        ('"kind": "reference"', '"kind": "capture"', "one file or folder for each reference"),
        ('"schema": "feelcheck.report/1"', '"schema": [', "no valid JSON"),
    ],
)
def test_what_is_no_page_of_ours_is_refused(bench: Path, before: str, after: str, says: str) -> None:
    _edited(bench / "page.html", before, after)
    run = _run(bench / "page.html")
    assert run.exit_code == 2
    assert says in run.stderr


def test_a_page_that_is_not_there_or_not_text_is_refused(bench: Path) -> None:
    assert _run(bench / "no.html").exit_code == 2
    data = (bench / "page.html").read_bytes()
    (bench / "page.html").write_bytes(data + b"\xff")
    with pytest.raises(FormatError, match="UTF-8"):
        pipeline.verify(bench / "page.html")


def test_of_several_files_of_a_name_the_one_with_the_hash_counts_and_other_hosts_are_not_asked(tmp_path: Path) -> None:
    for place, text in (("a", "no"), ("b", "yes")):
        (tmp_path / place).mkdir()
        (tmp_path / place / "x.csv").write_text(text)
    one = Evidence(
        kind="capture", reference=0, specimen="oak", state="as_found", path="//host/share/x.csv",
        sha256=hashes_of(tmp_path / "b" / "x.csv"),
    )  # fmt: skip
    (check,) = looked_for([one], tmp_path / "page.html", [tmp_path])
    assert (check.state, check.found) == ("same", str(tmp_path / "b" / "x.csv"))
    assert looked_for([one], tmp_path / "page.html", [tmp_path / "a"])[0].state == "changed"
    assert looked_for([one], tmp_path / "page.html", [])[0].state == "missing"


def test_values_are_counted_one_by_one() -> None:
    page = {"a": [1.0, None, True], "b": {"c": 2, "d": "x"}, "e": 3.0}
    numbers, words = document_tallies(page, {"a": [1.0 + 1e-9, 5.0, True], "b": NOT_DERIVED, "f": "new"})
    assert (numbers.same, numbers.different, numbers.not_derived) == (1, 2, 1)
    assert numbers.differences[0] == Difference(where="a[1]", page="None", now="5.0")
    assert (words.same, words.different, words.not_derived) == (1, 1, 1)
    assert words.differences[0] == Difference(where="f", page="", now="new")


def test_pieces_are_matched_in_order() -> None:
    tally = sequence_tally("passage", ["a", "b", "c", "d"], ["a", "x", "c", "d", "e"])
    assert (tally.same, tally.different) == (3, 2)
    assert tally.differences == (
        Difference(where="passage 2", page="b", now="x"), Difference(where="passage 5", page="", now="e"),
    )  # fmt: skip
    many = [str(k) for k in range(9000)]
    assert sequence_tally("passage", many, many[::-1]).same == 0
