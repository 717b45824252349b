"""What is fed: every reader, and every command with options of all sorts."""

from __future__ import annotations

import random
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

from lines import UnclearEnd, command_line, laid
from mutations import mutated

from feelcheck.errors import FeelcheckError
from feelcheck.formats.readings import is_readings, read_readings
from feelcheck.formats.report_page import read_report_page
from feelcheck.formats.scope import read_captures
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.formats.study import read_study_table, study_array
from feelcheck.model import Part
from feelcheck.outputs import REPORT_PAGE, check_output
from feelcheck.pipeline._evidence import looked_for
from feelcheck.pipeline._hand import read_recording as read
from feelcheck.pipeline._verify import document_tallies
from feelcheck.profiles import add_part, read_profile
from feelcheck.recorder import load_script

__all__ = ["TARGETS", "name_of", "one"]


def _log(folder: Path, by: random.Random) -> None:
    (path,) = laid("log", folder, by)
    options: dict[str, Any] = {}
    if by.random() < 0.2:
        options = {"rate_hz": by.choice((250.0, 1e-9, 1e9)), "full_scale": by.choice((None, 127.0, 1e-300))}
    read(path, **options)


def _session(folder: Path, by: random.Random) -> None:
    laid("session", folder, by)
    sessions_on_shelf(folder.parent)
    read(folder)


def _capture(folder: Path, by: random.Random) -> None:
    read_captures(laid("capture", folder, by))


def _readings(folder: Path, by: random.Random) -> None:
    (path,) = laid("readings", folder, by)
    is_readings(path)
    read_readings(path)


def _study(folder: Path, by: random.Random) -> None:
    (path,) = laid("study", folder, by)
    study_array(read_study_table(path)[0])


def _record(folder: Path, by: random.Random) -> None:
    (path,) = laid("record", folder, by)
    read_profile(path)
    add_part(path, Part(position="z9", role="load", value=47.0, unit="ohm"))
    assert any(part.position == "z9" for part in read_profile(path).parts)


def _script(folder: Path, by: random.Random) -> None:
    (path,) = laid("script", folder, by)
    load_script(str(path))


def _page(folder: Path, by: random.Random) -> None:
    path = folder / "page.html"
    path.write_bytes(mutated(f"<!doctype html>\n<meta content='{REPORT_PAGE.mark}'>".encode(), by))
    check_output(path, REPORT_PAGE)


def _proof(folder: Path, by: random.Random) -> None:
    """A page whose data or what it was made from is spoilt: read back, its files looked for, held against itself."""
    page = next(path for path in laid("page", folder, by) if path.suffix == ".html")
    found = read_report_page(page)
    looked_for(found.making.files, page, [folder])
    document_tallies(found.document, found.document)


TARGETS: dict[str, tuple[Callable[[Path, random.Random], None], int]] = {
    "axis logs": (_log, 25),
    "sessions": (_session, 14),
    "scope captures": (_capture, 19),
    "cursor readings": (_readings, 8),
    "gauge studies": (_study, 6),
    "records, read and edited": (_record, 8),
    "flick scripts": (_script, 7),
    "pages to be replaced": (_page, 3),
    "pages to be verified": (_proof, 3),
    "command lines": (command_line, 7),
}
"""Each with its share of the inputs, in per cent."""


def name_of(seed: int) -> str:
    """Return what is fed by a seed."""
    shares = [share for _, share in TARGETS.values()]
    return random.Random(seed).choices(list(TARGETS), weights=shares)[0]


def one(seed: int, folder: Path) -> str:
    """Feed the input of a seed; return how it ended, taken or refused, or raise what went wrong."""
    name, by = name_of(seed), random.Random(f"{seed} of a run")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", ResourceWarning)
        try:
            TARGETS[name][0](folder, by)
        except FeelcheckError as problem:
            if not 0 < len(str(problem).strip()) < 20_000:
                raise UnclearEnd("a message of no use") from problem
            return "refused"
    return "taken"
