"""Whole command lines: every command, spoilt files and words, up to three options with values of all sorts."""

from __future__ import annotations

import contextlib
import inspect
import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

from corpus import seeds
from mutations import NUMBERS, TEXTS, mutated
from typer.testing import CliRunner

from feelcheck.cli import app

__all__ = ["COMMANDS", "UnclearEnd", "command_line", "laid"]

os.environ |= {"SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy"}
CHANGES = ("c3=lifted", "c3=4.7u", "x", "=", "c3=" + "9" * 400, "\u202e")
Words = Callable[[Path, random.Random], list[str]]


class UnclearEnd(Exception):  # noqa: N818 - an outcome, not a mistake of ours
    """A command ended with neither a result nor one clear message."""


def laid(kind: str, folder: Path, by: random.Random) -> list[Path]:
    """Lay a spoilt sample of a kind into a folder; one of its files at least is spoilt."""
    sample = dict(by.choice(seeds()[kind]))
    spoilt = by.sample(sorted(sample), by.randint(1, len(sample)))
    paths = []
    for name, data in sample.items():
        path = folder / name
        path.write_bytes(mutated(data, by) if name in spoilt else data)
        paths.append(path)
    return paths


def _value(by: random.Random, folder: Path) -> str:
    odd = [text.decode("utf-8", "ignore") for text in (*NUMBERS, *TEXTS) if b"\0" not in text]
    return by.choice([*odd, "1", "left_x", "rising", "4.7k", str(folder), str(folder / "new.png"), "/dev/zero"])


def _reads(*kinds: str, more: tuple[str, ...] = (), changes: bool = False) -> Words:
    """A command that takes what lies in a file or, for a session, in a folder."""

    def words(folder: Path, by: random.Random) -> list[str]:
        paths = [str(path) for path in laid(by.choice(kinds), folder, by)]
        named = [str(folder)] if len(paths) > 1 else paths
        if changes and by.random() < 0.5:
            named = [f"{named[0]}@{by.choice(CHANGES)}", *named]
        return [*named, *(word.format(folder=folder) for word in more)]

    return words


def _demo(folder: Path, by: random.Random) -> list[str]:
    """A whole demo takes half a minute: something in its way ends it before it begins."""
    name = by.choice(("birch_hand.png", "comparison.csv", "report.html"))
    (folder / name).write_bytes(mutated(b"\x89PNG\r\n\x1a\n, <!doctype html>", by))
    (folder / "birch_bench.png").write_bytes(b"a photo")
    return ["--out", str(folder)]


def _log(folder: Path, by: random.Random) -> list[str]:
    return [_value(by, folder) if by.random() < 0.2 else "alder", "--source", "synthetic", "--out", str(folder / "out"),
            "--seconds", "0.2"]  # fmt: skip


def _rehearse(folder: Path, by: random.Random) -> list[str]:
    paths = [str(path) for path in laid(by.choice(("record", "page", "capture")), folder, by)]
    record = next((path for path in paths if path.endswith(".toml")), paths[0])
    task = by.choice(("staircase", "trials", "aiming", "free"))
    played = [f"{record}@{by.choice(CHANGES)}", record][: by.choice((0, 1, 2))]
    return [*played, "--task", task, "--trials", "4", "--headless", "--observer-threshold-ms", "12", "--seed", "1",
            "--own", record, "--out", str(folder / "out")]  # fmt: skip


def _survey(folder: Path, by: random.Random) -> list[str]:
    for kind in by.sample(("log", "capture", "readings", "session"), by.randint(1, 2)):
        inside = folder / kind
        inside.mkdir()
        laid(kind, inside, by)
    return [str(folder), "--jobs", "1", "--out", str(folder / "table.csv")]


def _profile(folder: Path, by: random.Random) -> list[str]:
    """One of the commands on a record; `command_line` puts its name in front."""
    (path,) = laid("record", folder, by)
    odd = _value(by, folder)
    return by.choice(
        [
            ["new", odd, "--folder", str(folder)],
            ["add", str(path), *(str(one) for one in laid("capture", folder, by)), "--axis", "left_x"],
            ["part", str(path), by.choice(("c9", odd)), by.choice(("1u", odd)), "--role", by.choice(("load", odd))],
            ["state", str(path), by.choice(("lifted", odd)), "--change", by.choice(("c3=lifted", odd))],
            ["show", str(path), *by.choice(([], ["--json"]))],
        ]
    )


COMMANDS: dict[str, Words] = {
    "analyze": _reads("log", "session"),
    "bench": _reads("capture", "readings"),
    "compare": _reads("record", "session", "capture", changes=True),
    "demo": _demo,
    "devices": lambda folder, by: ["--watch", "0"],
    "export": _reads("log", "session", more=("--out", "{folder}/wide.csv")),
    "feel": _reads("record", "capture", changes=True),
    "guide": lambda folder, by: [by.choice(("hand", "bench", _value(by, folder)))],
    "log": _log,
    "parts": _reads("capture"),
    "plugins": lambda folder, by: [],
    "profile": _profile,
    "rehearse": _rehearse,
    "repeatability": _reads("study"),
    "report": _reads("record", changes=True, more=("--out", "{folder}/new.html")),
    "sessions": _reads("session"),
    "survey": _survey,
    "verify": lambda folder, by: [str(next(p for p in laid("page", folder, by) if p.suffix == ".html"))],
}
OWN_ENDS = {"verify": (0, 1, 2)}
FIXED = {"demo": ("out",), "devices": ("watch",), "rehearse": ("own", "source"), "survey": ("dask",)}
"""Options whose value a line keeps: another one would take minutes, or reach out of the machine."""


def _callbacks() -> dict[str, Any]:
    return {info.callback.__name__: info.callback for info in app.registered_commands if info.callback}


def command_line(folder: Path, by: random.Random) -> None:
    """Run one command; it must end with a result, or with one clear message and exit code 2."""
    name = by.choice(sorted(COMMANDS))
    words = COMMANDS[name](folder, by)
    callback = _callbacks().get(name)
    known = {} if callback is None else inspect.signature(callback).parameters
    options = [n for n, p in known.items() if "Option" in str(p.annotation) and n not in FIXED.get(name, ())]
    for option in by.sample(options, min(len(options), by.choice((0, 1, 1, 2, 3)))):
        words += [f"--{option.rstrip('_').replace('_', '-')}", _value(by, folder)]
    with contextlib.chdir(folder):  # a word may be taken for a name to write under
        ended = CliRunner().invoke(app, [name, *words])
    if ended.exception is not None and not isinstance(ended.exception, SystemExit):
        raise ended.exception
    if ended.exit_code not in OWN_ENDS.get(name, (0, 2)) or (ended.exit_code == 2 and not ended.stderr.strip()):
        raise UnclearEnd(f"{ended.exit_code}: {ended.stderr[-300:]}")
