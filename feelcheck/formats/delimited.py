"""Any delimited stick-axis log: a table of times and axis codes, whoever wrote it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats._columns import usual_step
from feelcheck.formats._delimited_axes import assign_roles, is_measured
from feelcheck.formats._delimited_cut import LogTable, cut_table
from feelcheck.formats._delimited_events import find_long, one_device
from feelcheck.formats._delimited_options import LogOptions, parse_options
from feelcheck.formats._delimited_streams import Streams, long_streams, wide_streams
from feelcheck.formats._delimited_time import LogTime, read_time
from feelcheck.formats._names import read_name
from feelcheck.formats._text import DecodedText, naming, read_head, read_text, refuse_document
from feelcheck.formats.numbers import EVEN_SHARE, FASTEST_STEP_S
from feelcheck.model import FloatArray, Gap, Provenance, Recording

__all__ = ["DelimitedReader"]

Columns = Mapping[str, NDArray[Any]]


_BENCH_WORDS = frozenset(["drive", "coil", "shunt", "ch1", "ch2", "ch3", "ch4", "ch5", "hall_v", "output_v"])
_JSON = re.compile(r'\s*(?:\[\s*)?\{\s*"')
_SESSION_COLUMNS = frozenset(("t_lo_ns", "t_hi_ns", "kind", "name", "value", "end"))


class DelimitedReader:
    r"""Reader of delimited stick-axis logs.

    Notes
    -----
    The text is cut into columns whatever its encoding, separator and decimal mark. The time column is told by its name
    and unit, by text stamps, or by running forward steadily; axes by being numeric and varying; 0/1 columns become
    button events; everything left out is named in the remarks. Time that steps back now and then splits the log.
    What cannot be told is asked for by the name of its option.

    Options of `read`: ``time`` (column), ``time_unit`` (``"ms"``, or ``"samples"``),
    ``rate_hz``, ``axes`` (``"A,B"`` or a sequence), ``full_scale``.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "alder.csv"
    >>> _ = path.write_text("time_ms;x\n" + "".join(f"{4 * k};{k % 200}\n" for k in range(500)))
    >>> DelimitedReader().read(path).streams[0].time.duration_s
    1.996
    """

    name = "delimited"

    def claims(self, path: Path) -> float:
        """Return how sure this reader is that it can read `path`, from its first 64 KiB.

        0.6 where time and axes are plain, 0.3 for a table in which something must be stated, 0.1 for one column of
        numbers, 0 for anything else (a scope capture, a session's own files, no table).
        """
        path = Path(path)
        if path.is_dir() or (path.parent / "datapackage.json").is_file():
            return 0.0
        head = None
        try:
            refuse_document(path)
            head = read_head(path)
            table = cut_table(head, n_least=1)
            columns = table.columns
            if len(columns) == 1:
                return 0.1
            if _SESSION_COLUMNS.issubset(columns) or _bench_names(columns):
                return 0.0
        except FormatError:
            return 0.2 if head is not None and _JSON.match(head.text) else 0.0
        try:
            time = read_time(columns, LogOptions(), table.settings)
            _refuse_scope(columns, time.line.t_s)
        except FormatError as problem:
            return 0.0 if "scope" in problem.sentence else 0.3
        return self._sureness(columns, time)

    def _sureness(self, columns: Columns, time: LogTime) -> float:
        try:
            if find_long(columns, time.used) is None:
                assign_roles(columns, time.used, LogOptions())
        except FormatError:
            return 0.3
        return 0.6

    def read(self, path: Path, **options: Any) -> Recording:
        """Return the recording.

        Parameters
        ----------
        path : Path
            The log.
        **options
            See the class; None means not stated.

        Raises
        ------
        FormatError
            Where the file is no log, or the time, its unit or the axes cannot be told; the text says what to state.
        """
        path = Path(path)
        stated = parse_options(options)
        with naming(path.name):
            return self.read_decoded(read_text(path, between="gap"), stated, str(path))

    def read_decoded(self, text: DecodedText, stated: LogOptions, path: str = "") -> Recording:
        """Return the recording that a text holds; see `read`.

        Parameters
        ----------
        text : DecodedText
            The table.
        stated : LogOptions
            What the user stated.
        path : str
            Where it came from.
        """
        table = cut_table(text, n_least=1 if stated.rate_hz else 2)
        columns, devices = one_device(table.columns, stated.axes)
        if not stated.axes and (names := _bench_names(columns)):
            _raise_scope({"columns": ", ".join(names)})
        time = read_time(columns, stated, table.settings)
        if not stated.axes:
            _refuse_scope(columns, time.line.t_s)
        long = find_long(columns, time.used)
        found = wide_streams(columns, time, stated) if long is None else long_streams(columns, time, long, stated)
        return Recording(
            streams=found.streams,
            buttons=found.buttons,
            gaps=_merged(time.line.gaps, found.gaps),
            provenance=Provenance(
                path=path,
                format=self.name,
                facts=MappingProxyType(_facts(text, table, time, found)),
                sha256=text.sha256,
                remarks=(*text.remarks, *table.remarks, *devices, *time.remarks, *found.remarks),
            ),
        )


def _bench_names(columns: Columns) -> list[str]:
    """Return the columns that an instrument measured; none where most numbers are others (a pack's volts, say)."""
    found = [name for name in columns if is_measured(name) or set(read_name(name).words) & _BENCH_WORDS]
    others = [name for name in columns if name not in found and _may_be_axis(name, columns[name])]
    return found if 2 * len(found) >= len(others) else []


def _may_be_axis(name: str, cells: NDArray[Any]) -> bool:
    return cells.dtype.kind in "iuf" and read_name(name).role in ("", "abscissa", "trigger")


def _refuse_scope(columns: Columns, t_s: FloatArray) -> None:
    steps = np.diff(t_s)
    ahead = steps[steps > 0]
    # a host that wakes every few reports writes those of one wake closer together than any instrument's samples
    if ahead.size and float(np.quantile(ahead, EVEN_SHARE)) < FASTEST_STEP_S:
        _raise_scope({"median step (s)": f"{float(np.median(ahead)):.3g}", "columns": ", ".join(list(columns)[:8])})


def _raise_scope(facts: Mapping[str, object]) -> None:
    raise FormatError(
        "This looks like a scope capture, not a stick log.",
        facts,
        "Use feelcheck bench, or, if it is a stick log, name its axes with --axes A,B (and --time-unit).",
    )


def _merged(joints: tuple[Gap, ...], silences: tuple[Gap, ...]) -> tuple[Gap, ...]:
    starts = {gap.start_s for gap in joints}
    return tuple(sorted((*joints, *(g for g in silences if g.start_s not in starts)), key=lambda gap: gap.start_s))


def _facts(text: DecodedText, table: LogTable, time: LogTime, found: Streams) -> dict[str, str]:
    t_s = found.streams[0].time.t_s
    usual = usual_step(t_s)
    return {
        "encoding": text.encoding,
        "separator": {"\t": "tab", " ": "blanks"}.get(table.dialect.separator, table.dialect.separator),
        "decimal mark": table.dialect.decimal,
        "rows": str(t_s.size),
        "median step (s)": f"{usual:.6g}" if usual else "",
        **time.facts,
        **found.facts,
    }
