"""What is fed: every reader, and every command with options of all sorts."""

from __future__ import annotations

import inspect
import random
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

from corpus import seeds
from mutations import NUMBERS, TEXTS, mutated
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.errors import FeelcheckError
from feelcheck.formats.readings import is_readings, read_readings
from feelcheck.formats.scope import read_captures
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.formats.study import read_study_table, study_array
from feelcheck.model import Part
from feelcheck.outputs import REPORT_PAGE, check_output
from feelcheck.pipeline import read
from feelcheck.profiles import add_part, read_profile
from feelcheck.recorder import load_script

__all__ = ["TARGETS", "UnclearEnd", "one"]


class UnclearEnd(Exception):  # noqa: N818 - an outcome, not a mistake of ours
    """A command ended with neither a result nor one clear message."""


def _laid(kind: str, folder: Path, by: random.Random) -> list[Path]:
    """Lay a spoilt sample of a kind into a folder; one of its files at least is spoilt."""
    sample = dict(by.choice(seeds()[kind]))
    spoilt = by.sample(sorted(sample), by.randint(1, len(sample)))
    paths = []
    for name, data in sample.items():
        path = folder / name
        path.write_bytes(mutated(data, by) if name in spoilt else data)
        paths.append(path)
    return paths


def _log(folder: Path, by: random.Random) -> None:
    (path,) = _laid("log", folder, by)
    options: dict[str, Any] = {}
    if by.random() < 0.2:
        options = {"rate_hz": by.choice((250.0, 1e-9, 1e9)), "full_scale": by.choice((None, 127.0, 1e-300))}
    read(path, **options)


def _session(folder: Path, by: random.Random) -> None:
    _laid("session", folder, by)
    sessions_on_shelf(folder.parent)
    read(folder)


def _capture(folder: Path, by: random.Random) -> None:
    read_captures(_laid("capture", folder, by))


def _readings(folder: Path, by: random.Random) -> None:
    (path,) = _laid("readings", folder, by)
    is_readings(path)
    read_readings(path)


def _study(folder: Path, by: random.Random) -> None:
    (path,) = _laid("study", folder, by)
    study_array(read_study_table(path)[0])


def _record(folder: Path, by: random.Random) -> None:
    (path,) = _laid("record", folder, by)
    read_profile(path)
    add_part(path, Part(position="z9", role="load", value=47.0, unit="ohm"))
    assert any(part.position == "z9" for part in read_profile(path).parts)


def _script(folder: Path, by: random.Random) -> None:
    (path,) = _laid("script", folder, by)
    load_script(str(path))


def _page(folder: Path, by: random.Random) -> None:
    path = folder / "page.html"
    path.write_bytes(mutated(f"<!doctype html>\n<meta content='{REPORT_PAGE.mark}'>".encode(), by))
    check_output(path, REPORT_PAGE)


KINDS = {"analyze": ("log", "session"), "bench": ("capture", "readings"), "export": ("log", "session"),
         "feel": ("record", "capture"), "parts": ("capture",), "compare": ("record", "session", "capture"),
         "report": ("record",), "repeatability": ("study",), "sessions": ("session",), "log": ("script",)}  # fmt: skip
SLOW = {"demo", "devices", "rehearse", "survey", "guide", "plugins"}


def _command(folder: Path, by: random.Random) -> None:
    """A whole command line: a spoilt file or a word, and up to three options with values of all sorts."""
    known = {
        info.callback.__name__: info.callback
        for info in app.registered_commands
        if info.callback and info.callback.__name__ not in SLOW
    }
    name = by.choice(sorted(known))
    paths = [str(path) for path in _laid(by.choice(KINDS.get(name, ("log",))), folder, by)]
    at_hand = [str(folder)] if len(paths) > 1 else paths
    words = at_hand
    if name == "log":
        words = ["alder", "--source", "synthetic", "--out", str(folder / "out"), "--seconds", "0.2"]
    if name in ("compare", "feel", "report") and by.random() < 0.5:
        words = [f"{words[0]}@{by.choice(('c3=lifted', 'c3=4.7u', 'x', '=', 'c3=' + '9' * 400))}", *words]
    options = [n for n, p in inspect.signature(known[name]).parameters.items() if "Option" in str(p.annotation)]
    for option in by.sample(options, min(len(options), by.choice((0, 1, 1, 2, 3)))):
        words += [f"--{option.replace('_', '-')}", _value(by, folder)]
    if name == "export":
        words += ["--out", str(folder / "wide.csv")]
    ended = CliRunner().invoke(app, [name, *words])
    clear = ended.exception is None or isinstance(ended.exception, SystemExit)
    if not clear:
        assert ended.exception is not None
        raise ended.exception
    if ended.exit_code not in (0, 2) or (ended.exit_code == 2 and not ended.stderr.strip()):
        raise UnclearEnd(f"{ended.exit_code}: {ended.stderr[-300:]}")


def _value(by: random.Random, folder: Path) -> str:
    odd = [text.decode("utf-8", "ignore") for text in (*NUMBERS, *TEXTS) if b"\0" not in text]
    return by.choice([*odd, "1", "left_x", "rising", "4.7k", str(folder), str(folder / "new.png"), "/dev/zero"])


TARGETS: dict[str, tuple[Callable[[Path, random.Random], None], int]] = {
    "axis logs": (_log, 26),
    "sessions": (_session, 14),
    "scope captures": (_capture, 20),
    "cursor readings": (_readings, 8),
    "gauge studies": (_study, 6),
    "records, read and edited": (_record, 8),
    "flick scripts": (_script, 8),
    "pages to be replaced": (_page, 3),
    "command lines": (_command, 7),
}
"""Each with its share of the inputs, in per cent."""


def one(seed: int, folder: Path) -> tuple[str, str]:
    """Feed the input of a seed; return what was fed and how it ended, taken or refused, or raise what went wrong."""
    by = random.Random(seed)
    name = by.choices(list(TARGETS), weights=[share for _, share in TARGETS.values()])[0]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", ResourceWarning)
        try:
            TARGETS[name][0](folder, by)
        except FeelcheckError as problem:
            if not 0 < len(str(problem).strip()) < 20_000:
                raise UnclearEnd("a message of no use") from problem
            return name, "refused"
    return name, "taken"
