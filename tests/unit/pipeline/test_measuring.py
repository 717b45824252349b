"""Many files measured in several processes: the same page, whatever order they come in; few files stay at home."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from feelcheck import pipeline, plugins
from feelcheck.errors import FormatError, NotEnoughDataError
from feelcheck.pipeline import _measuring
from feelcheck.pipeline._before_after import with_captures
from feelcheck.pipeline._specimens import specimens_of
from feelcheck.survey import engines

RECORDS = Path(__file__).parents[3] / "profiles"

READINGS = """
time_unit = "ms"
time_error = 0.1

[[edge]]
direction = "rising"
drive = 0.0
t10 = 0.5
t90 = {rise}

[[edge]]
direction = "falling"
drive = 0.0
t10 = 0.5
t90 = {rise}
"""


@dataclass
class Elsewhere:
    """An engine whose results come back through a pickle, the last one first; the process of some dies."""

    deadly: str = "none"
    seen: list[str] = field(default_factory=list)
    n_workers = 2

    def run(self, work: Callable[[Any], Any], tasks: Sequence[Any], lost: Callable[[Any], Any]) -> Iterator[Any]:
        for task in reversed(tasks):
            self.seen.append(task.name)
            yield lost(task) if task.name == self.deadly else pickle.loads(pickle.dumps(work(task)))


@pytest.fixture
def boards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Three typed readings without a record, and what counts as many."""
    monkeypatch.setattr(_measuring, "LEAST_IN_PARALLEL", 3)
    made = [tmp_path / f"{name}.toml" for name in ("oak", "fir", "elm")]
    for k, path in enumerate(made):
        path.write_text(READINGS.format(rise=10.0 + k))
    return made


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> Elsewhere:
    engine = Elsewhere()
    monkeypatch.setattr(engines, "engine_of", lambda **_: engine)
    return engine


def test_a_page_is_the_same_wherever_its_files_were_measured(boards: list[Path], elsewhere: Elsewhere) -> None:
    one = pipeline.report_of(boards, jobs=1)
    assert elsewhere.seen == []
    said: list[str] = []
    many = pipeline.report_of(boards, jobs=2, say=said.append)
    assert elsewhere.seen == ["elm.toml", "fir.toml", "oak.toml"]
    assert json.dumps(many.to_dict()) == json.dumps(one.to_dict())
    assert [line for line in said if line.startswith("measur")] == [
        "measuring 3 files, several at a time",
        "measured elm.toml, 1 of 3", "measured fir.toml, 2 of 3", "measured oak.toml, 3 of 3",
    ]  # fmt: skip


@pytest.mark.full
def test_a_page_is_the_same_by_one_process_and_by_two(boards: list[Path]) -> None:
    pages = [boards[0].parent / f"{jobs}.html" for jobs in (1, 2)]
    for jobs, page in enumerate(pages, 1):
        pipeline.report(boards, page, jobs=jobs)
    assert pages[0].read_bytes() == pages[1].read_bytes()
    assert pipeline.verify(pages[1]).identical


def test_few_files_stay_in_this_process(boards: list[Path], elsewhere: Elsewhere) -> None:
    pipeline.feel(boards[:2])
    assert elsewhere.seen == []


def test_what_another_package_measures_stays_where_it_is_told_and_stopped(
    boards: list[Path], elsewhere: Elsewhere, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = plugins.Plugin(group="feelcheck.metrics", name="travel", reference="a:b", distribution="larch-bench")
    monkeypatch.setattr(plugins, "registered", lambda _: (other,))
    pipeline.feel(boards)
    assert elsewhere.seen == []


def test_one_that_cannot_be_measured_is_the_same_error(boards: list[Path], elsewhere: Elsewhere) -> None:
    boards[1].write_text(READINGS.format(rise=-3.0))
    with pytest.raises(FormatError) as alone:
        pipeline.feel(boards[1])
    with pytest.raises(FormatError) as among:
        pipeline.compare(boards[0], boards[1:])
    assert elsewhere.seen == ["elm.toml", "fir.toml"], "nothing more is measured behind it"
    assert str(among.value) == str(alone.value)
    assert among.value.facts == alone.value.facts


def test_a_process_that_dies_is_told_with_its_file(boards: list[Path], elsewhere: Elsewhere) -> None:
    elsewhere.deadly = "fir.toml"
    with pytest.raises(NotEnoughDataError, match=r"(?s)process that measured it died.*file: .*fir\.toml"):
        pipeline.feel(boards)


def test_what_records_name_is_measured_in_several_processes_and_once(
    elsewhere: Elsewhere, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_measuring, "LEAST_IN_PARALLEL", 2)
    records = specimens_of([str(RECORDS / f"{name}.toml") for name in ("alder", "birch")])
    measurements = _measuring.Measurements()
    sides = [with_captures(records, measurements) for _ in range(2)]
    assert elsewhere.seen == ["birch_field_step.csv", "alder_field_step.csv"]
    assert [Path(side.captures[0].capture.provenance.path).stem[:5] for side in sides[0]] == ["alder", "birch"]
    assert sides[0][0].captures[0] is sides[1][0].captures[0]
