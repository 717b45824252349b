"""A reader of another package is used where it is surest; one that fails is named and left out, in both families."""

from __future__ import annotations

from collections.abc import Callable
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import PluginError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.scope import READER as SCOPE
from feelcheck.model import Capture, Recording
from feelcheck.pipeline._captures import captures_of
from feelcheck.pipeline._hand import read_recording as read
from feelcheck.pipeline._readers import Readers, log_claim

looked_at: list[str] = []


class Reader:
    """A reader of another package: surest of all, by the tool's own means."""

    name = "slate"

    def claims(self, path: Path) -> float:
        looked_at.append(path.name)
        return 0.95

    def read(self, path: Path, **options: Any) -> Any:
        return DelimitedReader().read(path) if path.suffix == ".log" else SCOPE.read(path)


class Raises(Reader):
    def claims(self, path: Path) -> float:
        raise RuntimeError("the slate\nis broken")


class TooSure(Reader):
    def claims(self, path: Path) -> float:
        return 7.0


class Halted(Reader):
    def claims(self, path: Path) -> float:
        raise KeyboardInterrupt


class Unmade(Reader):
    def __init__(self) -> None:
        raise OSError("no licence")


class Unread:
    name = "slate"

    def claims(self, path: Path) -> float:
        return 1.0


class Nonsense(Reader):
    def read(self, path: Path, **options: Any) -> Any:
        return 7


class Equal(Nonsense):
    def claims(self, path: Path) -> float:
        return max(DelimitedReader().claims(path), SCOPE.claims(path))


def log_of(path: Path) -> Recording:
    return read(path)


def capture_of(path: Path) -> Capture:
    return captures_of([path])[0]


FAMILIES: dict[str, tuple[Callable[[Path], Recording | Capture], Callable[[Path], float], str, str]] = {
    "feelcheck.formats": (log_of, log_claim, "birch.log", "time_ms;left;right\n"),
    "feelcheck.captures": (
        capture_of,
        lambda path: Readers("feelcheck.captures").surest(path).sure,
        "birch.csv",
        "time_ms;coil;out\n",
    ),
}


@pytest.fixture(params=FAMILIES)
def family(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def file(family: str, tmp_path: Path) -> Path:
    *_, name, heading = FAMILIES[family]
    x = np.round(900 * np.sin(np.arange(200) / 9.0)).astype(int)
    path = tmp_path / name
    path.write_text(heading + "".join(f"{4 * k};{v};{v * v % 700}\n" for k, v in enumerate(x.tolist())))
    return path


@pytest.fixture
def install(family: str, monkeypatch: pytest.MonkeyPatch) -> Callable[[Any], None]:
    real = metadata.entry_points

    class Distribution:
        name, version = "workbench", "2.1"

    def with_one_more(value: Any) -> None:
        class Loaded(metadata.EntryPoint):
            def load(self) -> Any:
                return value

        entry = Loaded("slate", "slate:READER", family)
        vars(entry).update(dist=Distribution())
        monkeypatch.setattr(
            metadata, "entry_points", lambda group: [*real(group=group), *([entry] if group == family else [])]
        )

    return with_one_more


@pytest.mark.parametrize(
    ("value", "why"),
    [
        (Raises(), "RuntimeError: the slate is broken"),
        (Raises, "RuntimeError: the slate is broken"),
        (TooSure(), "claims a file by 7.0"),
        (Halted(), "Ctrl-C"),
        (Unmade, "OSError: no licence"),
        (Unread(), "it has no read"),
    ],
)
def test_one_that_fails_is_named_and_left_out(
    family: str, file: Path, install: Callable[[Any], None], value: Any, why: str
) -> None:
    reads, claim, *_ = FAMILIES[family]
    plain, sure = reads(file), claim(file)
    install(value)
    found = reads(file)
    assert found.provenance.format == plain.provenance.format
    told = [remark for remark in found.provenance.remarks if remark not in plain.provenance.remarks]
    assert len(told) == 1
    assert "reader slate of package workbench was left out: " in told[0]
    assert why in told[0]
    assert claim(file) == sure


def test_the_surest_reads_and_looks_once(family: str, file: Path, install: Callable[[Any], None]) -> None:
    reads, claim, *_ = FAMILIES[family]
    install(Reader)
    looked_at.clear()
    assert not any("left out" in remark for remark in reads(file).provenance.remarks)
    assert looked_at == [file.name]
    assert claim(file) == 0.95


class Stopped(Reader):
    def read(self, path: Path, **options: Any) -> Any:
        raise KeyboardInterrupt


@pytest.mark.parametrize(("value", "why"), [(Nonsense(), "it returned int"), (Stopped(), "Ctrl-C")])
def test_one_that_is_surest_and_fails_at_reading_gives_way_to_the_next(
    family: str, file: Path, install: Callable[[Any], None], value: Any, why: str
) -> None:
    reads = FAMILIES[family][0]
    plain = reads(file)
    install(value)
    found = reads(file)
    assert found.provenance.format == plain.provenance.format
    (told,) = [remark for remark in found.provenance.remarks if remark not in plain.provenance.remarks]
    assert "reader slate of package workbench was left out: " in told
    assert why in told


def test_where_nobody_else_can_read_it_the_one_that_failed_is_named(
    family: str, file: Path, install: Callable[[Any], None]
) -> None:
    file.write_bytes(b"\x00\x01\xfe" * 400)
    install(Nonsense())
    with pytest.raises(PluginError, match="The plugin failed") as caught:
        FAMILIES[family][0](file)
    assert "it returned int" in str(caught.value)


def test_the_tools_own_reader_stands_where_another_is_as_sure(
    family: str, file: Path, install: Callable[[Any], None]
) -> None:
    install(Equal())
    assert FAMILIES[family][0](file).provenance.path == str(file)
