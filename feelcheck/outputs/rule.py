"""The rule for every output: it destroys no input, session, record or file that the tool did not make in that form."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from feelcheck.errors import OutputError
from feelcheck.outputs.forms import Form
from feelcheck.outputs.marks import MARKED, form_made, vouched
from feelcheck.outputs.replacing import disk_of, replaced

__all__ = ["EVENTS_FILE", "HEADER_FILE", "check_apart", "check_folder", "check_output", "numbered", "output"]

HEADER_FILE = "datapackage.json"
EVENTS_FILE = "events.csv"
_ELSEWHERE = "Name another file."
_KINDS = {".csv": "CSV", ".parquet": "Parquet", ".xlsx": "a workbook", ".html": "HTML", ".htm": "HTML"}
_KINDS |= {".png": "PNG", ".svg": "SVG", ".pdf": "PDF"}


def check_output(path: Path, form: Form, *, inputs: Iterable[Path] = (), overwrite: bool = False) -> Path:
    """Return where an output goes, links followed, if it may go there.

    Parameters
    ----------
    path : Path
        As it was asked for.
    form : Form
        What is to be written.
    inputs : iterable of Path, optional
        What the command reads: files and folders.
    overwrite : bool
        Whether a file of a form that cannot carry a mark may be replaced.

    Raises
    ------
    OutputError
        If the ending is another form's, there is no folder to write to, or the name is that of something which the
        tool did not make in this form.
    """
    path = Path(path)
    try:
        target = Path(os.path.realpath(path))
        for name in (path, target):
            _check_suffix(name, form)
        _check_folder(target)
        _check_session(target, form)
        if _is_there(target):
            _check_inputs(target, inputs)
            _check_replaceable(target, form, overwrite=overwrite)
    except OutputError:
        raise  # said already: it is a ValueError too
    except OSError as problem:
        raise _refused(form, path, problem.strerror or str(problem)) from None
    except ValueError as problem:
        raise _refused(form, Path(repr(str(path))), str(problem)) from None
    return target


@contextmanager
def output(path: Path, form: Form, *, inputs: Iterable[Path] = (), overwrite: bool = False) -> Iterator[BinaryIO]:
    """Yield the stream to which an output is written; it stands in its place, on the disk, when the block ends.

    Parameters and rule are those of `check_output`.

    Parameters
    ----------
    path : Path
        Where it is to stand.
    form : Form
        What it is.
    inputs : iterable of Path, optional
        Files that were read: the output is none of them.
    overwrite : bool, optional
        Whether one of the tool's own outputs may be replaced.

    Raises
    ------
    OutputError
        If it may not go there or cannot be written; an older one is left whole.
    """
    target = check_output(path, form, inputs=inputs, overwrite=overwrite)
    try:
        with replaced(target) as stream:
            yield stream
    except OSError as problem:
        if problem.filename != str(target):
            raise
        facts = {"file": path, "disk": disk_of(target), "reason": problem.strerror or str(problem)}
        raise OutputError(f"The {form.name} cannot be written.", facts, "Make room, or name another file.") from None


def check_apart(paths: Sequence[Path]) -> None:
    """Refuse two outputs of one command that would be one file.

    Parameters
    ----------
    paths : sequence of Path
        The outputs of one command.

    Raises
    ------
    OutputError
        If two paths lead to the same file.
    """
    seen: dict[str, Path] = {}
    for path in paths:
        place = os.path.normcase(os.path.realpath(path))
        twin = seen.get(place) or next((other for other in seen.values() if _same(other, path)), None)
        if twin is not None:
            raise OutputError("Each output needs a file of its own.", {"got": f"{twin}, {path}"}, _ELSEWHERE)
        seen[place] = path


def check_folder(folder: Path) -> None:
    """Refuse a folder for outputs that is a file.

    Parameters
    ----------
    folder : Path
        The folder.

    Raises
    ------
    OutputError
        If there is something of that name that is no folder.
    """
    if os.path.lexists(folder) and not folder.is_dir():
        raise OutputError("Several outputs are kept in a folder.", {"got": folder}, "Name another folder.")


def numbered(path: Path, n: int) -> list[Path]:
    """Return the files that `n` pictures go to when one name was given: all but the first get a number.

    Parameters
    ----------
    path : Path
        The name that was given.
    n : int
        Number of pictures.

    Examples
    --------
    >>> [path.name for path in numbered(Path("alder.png"), 3)]
    ['alder.png', 'alder_2.png', 'alder_3.png']
    """
    if not path.name:  # the folder itself, which is refused by its own rule
        return [path]
    return [path if k == 1 else path.with_stem(f"{path.stem}_{k}") for k in range(1, n + 1)]


def _refused(form: Form, path: Path, reason: str) -> OutputError:
    return OutputError(f"The {form.name} cannot be written.", {"file": path, "reason": reason}, _ELSEWHERE)


def _check_suffix(path: Path, form: Form) -> None:
    if path.suffix.lower() not in form.suffixes:
        kinds = " or ".join(dict.fromkeys(_KINDS[suffix] for suffix in form.suffixes))
        facts = {"got": path.name, "allowed": ", ".join(form.suffixes)}
        raise OutputError(f"A {form.name} is written as {kinds}.", facts, "Choose a name that ends in one of them.")


def _check_folder(target: Path) -> None:
    if not target.parent.is_dir():
        facts = {"folder": target.parent}
        raise OutputError("An output needs an existing folder.", facts, "Make the folder first, or choose another.")
    if not os.access(target.parent, os.W_OK | os.X_OK):
        facts = {"folder": target.parent}
        raise OutputError("An output needs a folder that you may write to.", facts, "Choose another folder.")


def _check_session(target: Path, form: Form) -> None:
    own = (HEADER_FILE, EVENTS_FILE)
    if target.name.lower() in own and any((target.parent / name).exists() for name in own):
        raise _never(form, target, "a file of a recorded session")


def _check_inputs(target: Path, inputs: Iterable[Path]) -> None:
    for given in inputs:
        if _same(given, target):
            raise OutputError("An output never replaces what it is made from.", {"file": target}, _ELSEWHERE)
        if (
            target.suffix.lower() not in MARKED
            and given.is_dir()
            and given.resolve() in target.parents
            and not vouched(target)
        ):
            facts = {"file": target, "folder read": given}
            raise OutputError("An output never replaces what it is made from.", facts, _ELSEWHERE)


def _check_replaceable(target: Path, form: Form, *, overwrite: bool) -> None:
    # A large table may be a folder of Parquet files.
    if target.is_dir() and form.in_parts and all(_is_part(path, form) for path in target.iterdir()):
        return
    if target.is_dir():
        raise OutputError(f"A {form.name} needs the name of a file, not of a folder.", {"got": target}, _ELSEWHERE)
    if not target.is_file():
        raise _never(form, target, "no plain file")
    if not os.access(target, os.W_OK):
        raise _never(form, target, "a file that is protected against writing")
    # These hold a mark inside; a CSV has no place for one, so a page vouches for it or it takes --overwrite.
    if target.suffix.lower() in MARKED:
        made = form_made(target)
        if made != form.name:
            raise _never(form, target, f"a {made} made by feelcheck" if made else "a file that feelcheck did not make")
    elif vouched(target):
        return
    elif not _begins_like(target, form):
        raise _never(form, target, "a file that feelcheck did not make")
    elif not overwrite:
        facts = {"file": target, "size": f"{target.stat().st_size} bytes"}
        say = "There is a file of that name, and nothing inside can tell whether feelcheck made it."
        raise OutputError(say, facts, "Name another file, or replace this one with --overwrite.")


def _begins_like(target: Path, form: Form) -> bool:
    """Whether a file that cannot carry a mark has the form's first column, or is empty: then nothing else is lost."""
    wanted = f"{form.first_column}," if form.first_column else ""
    with target.open("rb") as stream:
        head = stream.read(len(wanted))
    return head in (b"", wanted.encode())


def _is_part(path: Path, form: Form) -> bool:
    return path.is_file() and path.suffix.lower() in MARKED and form_made(path) == form.name


def _never(form: Form, target: Path, what: str) -> OutputError:
    return OutputError(
        f"A {form.name} replaces nothing but an older {form.name}.", {"file": target, "which is": what}, _ELSEWHERE
    )


def _is_there(target: Path) -> bool:
    try:
        target.lstat()
    except FileNotFoundError:
        return False
    return True


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
