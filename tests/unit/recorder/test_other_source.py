"""A source of another package: whatever it does wrong is one message that names it, and what was recorded is kept."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck import foreign, plugins
from feelcheck.errors import PluginError, SourceError
from feelcheck.formats.session_header import SessionHeader
from feelcheck.model import SourceKind, SourceOptions
from feelcheck.plugins import Plugin
from feelcheck.recorder import RecordingAsked, record_session, running, session
from feelcheck.recorder.other_source import OtherSource, source_of, told_whose

OTHER = Plugin(group="feelcheck.sources", name="oak", reference="oak_bench:SOURCE", distribution="oak-bench")
OWN = Plugin(group="feelcheck.sources", name="oak", reference="oak_bench:SOURCE", distribution="feelcheck")
AXIS = {"name": "left_x", "centre": 0, "reach": 2000, "unit": "counts", "stick": "left"}


class Oak:
    """Ten reports, 4 ms apart; `spoils` takes the place of one method's own answer, of `events` at the fifth."""

    name = "oak"

    def __init__(self, **spoils: Callable[[], Any]) -> None:
        self._spoils = spoils

    def open(self) -> None:
        self._spoils.get("open", lambda: None)()

    def describe(self) -> Any:
        own = {"device": "oak", "backend": "oak", "axes": [AXIS], "clock": "model", "simulated": True}
        return self._spoils.get("describe", lambda: own)()

    def events(self) -> Any:
        for k in range(10):
            good = [(np.int64(4_000_000 * k), 4_000_000 * k, "axis", "left_x", k)]
            yield self._spoils["events"]() if "events" in self._spoils and k == 5 else good

    def close(self) -> None:
        self._spoils.get("close", lambda: None)()


def _raises() -> None:
    raise RuntimeError("the oak fell")


def _record(
    monkeypatch: pytest.MonkeyPatch, folder: Path, make: Callable[[SourceOptions], Any], *, realtime: bool = False
) -> Path:
    kind = SourceKind(name="oak", about="an oak", make=make, realtime=realtime)
    find = plugins.find
    others = {"feelcheck.sources": (OTHER, kind)}
    monkeypatch.setattr(plugins, "find", lambda group, name, **also: others.get(group) or find(group, name, **also))
    return record_session(RecordingAsked(specimen="fir", source="oak", script="quick", out=folder))


def test_a_good_one_is_recorded_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = _record(monkeypatch, tmp_path, lambda _: Oak())
    assert len((folder / "events.csv").read_text().splitlines()) == 11
    assert SessionHeader.read(folder).recording == "complete"


@pytest.mark.parametrize(
    ("where", "spoil", "why"),
    [
        ("open", _raises, "RuntimeError: the oak fell"),
        ("open", lambda: sys.exit(3), "it ends the program: exit code 3"),
        ("describe", lambda: 42, "it describes itself by int"),
        ("describe", lambda: print("hello"), "it describes itself by NoneType"),
        ("close", _raises, "RuntimeError: the oak fell"),
        ("close", lambda: print("hello"), "it prints"),
    ],
)
def test_one_that_fails_is_named(
    where: str, spoil: Callable[[], Any], why: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(PluginError, match=rf"(?s)The plugin failed.*source oak of package oak-bench.*{why}"):
        _record(monkeypatch, tmp_path, lambda _: Oak(**{where: spoil}))


@pytest.mark.parametrize(
    ("spoil", "why"),
    [
        (_raises, "RuntimeError: the oak fell"),
        (lambda: 42, "no list of events"),
        (lambda: None, "no list of events"),
        (lambda: [(2, 1, "axis", "left_x", 0)], "no list of events"),
        (lambda: [(1, 1, "axis", "left_x", 0.5)], "no list of events"),
    ],
)
def test_what_was_recorded_before_it_failed_is_kept(
    spoil: Callable[[], Any], why: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(PluginError, match=rf"(?s)source oak of package oak-bench.*{why}") as said:
        _record(monkeypatch, tmp_path, lambda _: Oak(events=spoil))
    (folder,) = tmp_path.iterdir()
    assert said.value.facts["folder"] == folder
    assert len((folder / "events.csv").read_text().splitlines()) == 6
    assert SessionHeader.read(folder).recording == "interrupted"


@pytest.mark.parametrize("made", [42, None])
def test_what_is_no_source_is_named(made: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(PluginError, match=rf"(?s)oak-bench.*it makes {type(made).__name__}, not a source"):
        _record(monkeypatch, tmp_path, lambda _: made)
    assert list(tmp_path.iterdir()) == []


def test_one_that_a_process_of_its_own_reads_is_named_in_errors(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def ends(*_: object) -> Path:
        raise SourceError("The capture process ended by itself.", {"exit code": 1}, "Record again.")

    monkeypatch.setattr(session, "record_in_child", ends)
    with pytest.raises(
        SourceError, match=r"(?s)ended by itself.*plugin: source oak of package oak-bench.*exit code: 1"
    ):
        _record(monkeypatch, tmp_path, lambda _: Oak(), realtime=True)
    with pytest.raises(SourceError) as own, told_whose(OWN):
        ends()
    assert own.value.facts == {"exit code": 1}


@pytest.mark.parametrize("said", [42, None, ["left_x"]])
def test_one_in_real_time_that_does_not_describe_itself_is_refused(said: Any) -> None:
    class Child:
        def listen(self, _: float) -> dict[str, Any]:
            return {"ready": said}

    with pytest.raises(SourceError, match="describes itself before"):
        running._described(Child())  # type: ignore[arg-type]


def test_one_that_hangs_is_told(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    import time

    monkeypatch.setattr(foreign, "WAIT_S", 0.02)
    OtherSource(OTHER, Oak(open=lambda: time.sleep(0.1))).open()
    assert capsys.readouterr().err == "waiting for source oak of package oak-bench; Ctrl-C ends the command\n"


def test_the_tool_s_own_is_called_as_it_is() -> None:
    kind = SourceKind(name="oak", about="an oak", make=lambda _: Oak(), realtime=False)
    assert isinstance(source_of(OWN, kind, SourceOptions(script=None)), Oak)  # type: ignore[arg-type]
