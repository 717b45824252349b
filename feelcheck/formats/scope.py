"""Captures of scopes, data loggers and microcontroller loggers: delimited text in, a Capture out."""

from __future__ import annotations

import itertools
import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._columns import find_column
from feelcheck.formats._in_turn import side_by_side, stacked_parts
from feelcheck.formats._numbers import parse_quantity
from feelcheck.formats._scope_channels import are_channels, channels_of, joined_channels
from feelcheck.formats._scope_grid import TimeAxis
from feelcheck.formats._scope_roles import Role, claim_share, roles_by_name, settled_roles
from feelcheck.formats._scope_settings import SETTING_NAMES, scope_facts
from feelcheck.formats._scope_time import find_times
from feelcheck.formats._table import Table, parse_table
from feelcheck.formats._text import DecodedText, naming, read_head, read_text, refuse_document
from feelcheck.formats._time_units import stated_unit
from feelcheck.formats._words import folded, words_of
from feelcheck.formats.numbers import FEWEST_ROWS, OVER_RANGE, WIDE_TABLE
from feelcheck.model.bench import Capture
from feelcheck.model.recording import Provenance

__all__ = [
    "READER",
    "SETTING_NAMES",
    "ScopeReader",
    "claims",
    "interval_seconds",
    "read_capture",
    "read_captures",
    "read_decoded_capture",
]

PathLike = str | os.PathLike[str]
IN_MEMORY = "(in memory)"
NO_DRIVE = "none"
_SEPARATOR_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "blanks"}


def claims(path: PathLike) -> float:
    """Return how sure it is, from 0 to 1, that the file is a scope capture and not a log of stick axes.

    Looks at no more than the first 64 KiB and never raises.

    Parameters
    ----------
    path : path
        A file.
    """
    try:
        refuse_document(Path(path))
        table = parse_table(read_head(Path(path)))
        return claim_share(table)
    except (FormatError, OSError):
        return 0.0


def read_capture(
    paths: PathLike | Sequence[PathLike],
    *,
    drive: str | None = None,
    output: str | None = None,
    time: str | None = None,
    time_unit: str | None = None,
    interval_s: float | None = None,
) -> Capture:
    r"""Return one capture from one file, or from several files with one channel each on the same time axis.

    Parameters
    ----------
    paths : path or sequence of paths
        Delimited text.
    drive, output : str, optional
        Names of the columns that drive and answer (``#2`` means the second channel); the drive ``none`` says that none
        does.
    time, time_unit : str, optional
        Name of the time column, and its unit (``"us"``).
    interval_s : float, optional
        The sample interval, where the file does not tell it.

    Returns
    -------
    Capture
        Values in V, A or mT where the unit is known, ``"counts"`` for raw converter codes; `understood` says what was
        taken for what, and from where; `provenance.facts` holds the scope settings that were found.

    Raises
    ------
    FormatError
        If a file holds no capture, or several files share no time axis.

    Notes
    -----
    Nothing depends on who wrote the file: data block, separator, decimal mark, units and time axis are found by
    structure.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "alder.csv"
    >>> _ = path.write_text("Time (ms),Coil (A),Out (mV)\n0,0,200\n1,1,200\n2,1,900\n3,1,1000\n")
    >>> capture = read_capture(path)
    >>> [(c.name, c.unit, c.role) for c in capture.channels], capture.interval_s
    ([('Coil', 'A', 'drive'), ('Out', 'V', 'output')], 0.001)
    """
    captures = read_captures(paths, drive=drive, output=output, time=time, time_unit=time_unit, interval_s=interval_s)
    if isinstance(paths, str | os.PathLike):
        return max(captures, key=lambda capture: capture.t_s.size)
    if len(captures) > 1:
        facts = {c.provenance.path: f"{c.t_s.size} samples from {c.t_s[0]:.6g} s" for c in captures}
        raise FormatError(
            "Several files make one capture only if they hold one channel each on one time axis.",
            facts,
            "Give repeats of one capture to read_captures.",
        )
    return captures[0]


def read_captures(
    paths: PathLike | Sequence[PathLike],
    *,
    drive: str | None = None,
    output: str | None = None,
    time: str | None = None,
    time_unit: str | None = None,
    interval_s: float | None = None,
) -> tuple[Capture, ...]:
    """Return the captures of several files: one if they are channels on one time axis, else one a file (repeats).

    A file whose time begins anew (segments, several blocks under one heading) holds a capture in each block; tables one
    below the other with a heading and a channel each, on one time axis, are one capture. Files that
    hold the same two or more channels each are repeats even where their time axes are equal.

    Parameters
    ----------
    paths : path-like or sequence of path-like
        One file or several.
    drive, output, time, time_unit, interval_s
        As for `read_capture`.

    Raises
    ------
    FormatError
        Without a file, and as `read_capture`.
    """
    _check_options(time_unit, interval_s)
    several = [paths] if isinstance(paths, str | os.PathLike) else list(paths)
    if not several:
        raise FormatError("A capture needs at least one file.", {}, "Name a file.")
    blocks = []
    for path in map(Path, several):
        with naming(path.name):
            blocks.append(_read_blocks(path, time, time_unit, interval_s))
    read = [own[0] for own in blocks]
    one_each = all(len(own) == 1 for own in blocks)
    joined = [joined_channels(read)] if one_each and len(read) > 1 and are_channels(read) else itertools.chain(*blocks)
    return tuple(_with_roles(capture, drive, output) for capture in joined)


def read_decoded_capture(
    text: DecodedText,
    *,
    drive: str | None = None,
    output: str | None = None,
    time: str | None = None,
    time_unit: str | None = None,
    interval_s: float | None = None,
) -> Capture:
    """Return the capture that a text holds; parameters and errors are those of `read_capture`.

    Parameters
    ----------
    text : DecodedText
        The table.
    drive, output, time, time_unit, interval_s
        As for `read_captures`.
    """
    _check_options(time_unit, interval_s)
    with naming(IN_MEMORY):
        captures = _understood(parse_table(text), "", time, time_unit, interval_s)
    return _with_roles(max(captures, key=lambda capture: capture.t_s.size), drive, output)


def interval_seconds(text: str) -> float:
    """Return the sample interval that ``"4us"`` or ``"250 kHz"`` states; a bare number states none.

    Parameters
    ----------
    text : str
        An interval or a rate, with its unit.

    Raises
    ------
    FormatError
        If the text is no positive time or rate.

    Examples
    --------
    >>> interval_seconds("4us"), interval_seconds("250 kSa/s")
    (4e-06, 4e-06)
    """
    quantity = parse_quantity(text)
    value, unit, _ = quantity or (0.0, None, text)
    if unit is None or unit.kind not in ("time", "frequency") or not 0.0 < value < OVER_RANGE:
        raise FormatError(
            "A sample interval needs a number and a unit of time or rate.",
            {"got": text},
            "Write it like 4us or 250kHz.",
        )
    scaled = value * unit.factor
    return scaled if unit.kind == "time" else 1.0 / scaled


def _check_options(time_unit: str | None, interval_s: float | None) -> None:
    stated_unit(time_unit)
    if interval_s is not None and not 0.0 < interval_s < 1e9:
        raise FormatError("A sample interval must be greater than zero.", {"got": interval_s}, "Give it in seconds.")


def _read_blocks(path: Path, time: str | None, time_unit: str | None, interval_s: float | None) -> list[Capture]:
    source = read_text(path, between="thinned")
    wide = side_by_side(source.text)
    if wide is not None:
        source = replace(source, text=wide, remarks=(*source.remarks, "rows of channels in turn were set side by side"))
    table = parse_table(source)
    del source, wide
    captures = _understood(table, str(path), time, time_unit, interval_s)
    if len(captures) > 1 or table.n_behind < table.n_rows:
        return captures
    texts = [replace(table.source, text=part) for part in stacked_parts(read_text(path).text, table.n_rows)]
    tables = [parse_table(text) for text in texts]
    each = [_understood(one, str(path), time, time_unit, interval_s)[0] for one in tables]
    names = [{channel.name for channel in one.channels} for one in each]
    if len(each) < 2 or any(len(own) != len(names[0]) for own in names):
        return captures
    if all(own == names[0] for own in names):
        return [_numbered(capture, k) for k, capture in enumerate(each)]
    if len(names[0]) > 1 or len(set.union(*names)) < len(each) or not are_channels(each):
        return captures
    joined = joined_channels(each)
    own = replace(captures[0].provenance, remarks=joined.provenance.remarks, facts=joined.provenance.facts)
    understood = {key: value for one in reversed(each) for key, value in one.understood.items()}
    understood["columns"] = f"{len(each)} tables in one file, a channel in each, on one time axis"
    return [replace(joined, provenance=own, understood=MappingProxyType(understood))]


def _understood(
    table: Table, path: str, time: str | None, time_unit: str | None, interval_s: float | None
) -> list[Capture]:
    """Return a capture for each block of a table, at least one."""
    _check_shape(table)
    axes = find_times(table, time=time, unit=time_unit, interval_s=interval_s)
    captures = [_block(table, axis, path) for axis in axes]
    if len(captures) == 1:
        return captures
    return [_numbered(capture, k) for k, capture in enumerate(captures)]


def _numbered(capture: Capture, k: int) -> Capture:
    """Return one block of a file; the file's hash stands with the first alone, since blocks are no copies."""
    own = capture.provenance
    name = f"{own.path} (block {k + 1})" if k else own.path
    return replace(capture, provenance=replace(own, path=name, sha256="" if k else own.sha256))


def _block(table: Table, axis: TimeAxis, path: str) -> Capture:
    channels, remarks, units = channels_of(table, axis)
    facts = dict(scope_facts(table.settings))
    settings = {setting.key: setting.value for setting in table.settings}
    notes = [f"{s.key}: {s.value}" for s in table.settings if folded(s.key) in words_of("note")]
    size = f"{counted(len(channels), 'channel')} in {counted(table.n_rows, 'row')}"
    understood = {
        **axis.understood,
        "columns": f"{size} from line {table.first_line}",
        "separator": _SEPARATOR_NAMES.get(table.dialect.separator, table.dialect.separator),
        "decimal mark": table.dialect.decimal,
        "names from": table.heading.origin + (f" (line {table.heading.line})" if table.heading.line else ""),
        "encoding": table.source.encoding,
        **units,
    }
    provenance = Provenance(
        path=path,
        format="capture",
        specimen=settings.get("specimen", ""),
        state=settings.get("state", ""),
        simulated=settings.get("simulated", "").lower() in ("yes", "true", "1"),
        facts=MappingProxyType(facts),
        sha256=table.source.sha256,
        remarks=(*table.remarks, *axis.remarks, *remarks, *notes, *table.notes[:50]),
    )
    return Capture(
        t_s=axis.t_s,
        interval_s=axis.interval_s,
        channels=channels,
        provenance=provenance,
        understood=MappingProxyType(understood),
    )


def _check_shape(table: Table) -> None:
    facts = {"line": table.first_line, "rows": table.n_rows, "columns": len(table.columns)}
    if len(table.columns) >= WIDE_TABLE and table.n_rows < len(table.columns):
        sentence = "A capture needs one sample a row, but here every row holds a whole capture."
        raise FormatError(sentence, facts, "Turn the table (transpose it) in a spreadsheet and export it again.")
    if table.n_rows < FEWEST_ROWS:
        sentence = "A capture needs at least three rows of numbers."
        raise FormatError(sentence, facts, "Export the samples themselves as delimited text (CSV).")


def _with_roles(capture: Capture, drive: str | None, output: str | None) -> Capture:
    """Return the capture with its roles: the user's word first, then names and units."""
    roles = roles_by_name([(channel.name, channel.unit) for channel in capture.channels])
    if _is_none(capture, drive):
        roles, drive = [role if role == "other" else "output" for role in roles], None
    origins = ["names and units"] * len(roles)
    wanted: tuple[tuple[Role, str | None], ...] = (("drive", drive), ("output", output))
    for role, name in wanted:
        if name is None:
            continue
        place = _named(capture, name, f"--{role}")
        if drive is not None and role == "output" and roles[place] == "drive":
            facts = {"file": capture.provenance.path, "got": name}
            raise FormatError("Drive and output must be two columns.", facts, "Name two different columns.")
        roles = ["" if r == role and k != place else r for k, r in enumerate(roles)]
        roles[place] = role
        origins[place] = "the user's word"
    said = ""
    if output is None:
        roles, said = settled_roles(capture.channels, roles)
    understood = dict(capture.understood)
    channels = tuple(replace(c, role=role) for c, role in zip(capture.channels, roles, strict=True))
    for channel, origin in zip(channels, origins, strict=True):
        if channel.role in ("drive", "output"):
            understood.setdefault(channel.role, f"{channel.name} (from {origin})")
    aside = ", ".join(channel.name for channel in channels if channel.role == "other")
    if aside:
        understood["beside"] = f"{aside} (no drive and no sensor by name)"
    provenance = replace(capture.provenance, remarks=(*capture.provenance.remarks, *([said] if said else [])))
    return replace(capture, channels=channels, provenance=provenance, understood=MappingProxyType(understood))


def _is_none(capture: Capture, drive: str | None) -> bool:
    """Whether the user says that no column drives."""
    return (
        drive is not None and drive.lower() == NO_DRIVE and NO_DRIVE not in {c.name.lower() for c in capture.channels}
    )


def _named(capture: Capture, wanted: str, option: str) -> int:
    names, written = zip(*((channel.name, channel.written) for channel in capture.channels), strict=True)
    try:
        return find_column(names, wanted, option, written=written)
    except FormatError as problem:
        facts = {"file": capture.provenance.path, **problem.facts}
        raise FormatError(problem.sentence, facts, problem.next_step) from problem


class ScopeReader:
    """The tool's own reader of captures, as one of its family."""

    name = "scope"

    def claims(self, path: Path) -> float:
        """Return how sure it is that the file is a capture; see `claims`."""
        return claims(path)

    def read(self, path: Path, **options: Any) -> Capture:
        """Return the capture; see `read_capture`."""
        return read_capture(path, **options)


READER = ScopeReader()
