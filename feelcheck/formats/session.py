"""A session folder read back, however its recording ended."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._text import LARGE_BYTES
from feelcheck.formats._time_line import far_s, strays
from feelcheck.formats.session_header import HEADER_FILE, read_header
from feelcheck.formats.session_log import EVENTS_FILE
from feelcheck.formats.session_table import forward, read_bytes, whole_table
from feelcheck.model import (
    AxisScale,
    ButtonEvent,
    Clock,
    Cue,
    Gap,
    Provenance,
    Recording,
    StickAxes,
    Stream,
    TimeBase,
)

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["READER", "SessionReader"]

_CLOCKS: dict[str, Clock] = {"host": "host", "kernel": "kernel", "log": "log", "model": "model"}
_MOST_AXES = 256
_AGAIN = "Record it again, or analyse another session."


class SessionReader:
    """Reader of session folders (or of the ``events.csv`` or ``datapackage.json`` in one).

    Notes
    -----
    A row counts only with its guard: a row torn by a crash, NUL tails that a power loss leaves, and rows damaged
    otherwise are dropped with a remark. A session whose recording was not finished is read as far as it goes, with
    `Provenance.complete` false. Times start at the header's start of the clock; if the clock steps back (a session
    resumed after a restart) the later part follows the earlier one at a gap.
    """

    name = "session"

    def claims(self, path: Path) -> float:
        """Return 1 for a session folder with its header and a file in one, 0.5 for a folder with events alone."""
        folder = _folder(Path(path))
        if folder is None:
            return 0.0
        if (folder / HEADER_FILE).is_file():
            return 1.0 if _is_ours(folder) else 0.2
        return 0.5

    def read(self, path: Path, **options: Any) -> Recording:
        """Return the recording; options that were stated are refused, since a session says everything itself.

        Raises
        ------
        FormatError
            Where the path is no session, its header is missing or broken, or it holds no axis.
        """
        path = Path(path)
        stated = sorted(name for name, value in options.items() if value is not None)
        if stated:
            raise FormatError(
                "A session folder says its times and axes itself.",
                {"path": path, "got": ", ".join(stated)},
                "Leave the options out.",
            )
        folder = _folder(path)
        if folder is None:
            raise FormatError(
                f"A session is a folder with {HEADER_FILE} and {EVENTS_FILE}.", {"path": path}, "Name the folder."
            )
        header = read_header(folder)
        data, sha256, told = _events(folder / EVENTS_FILE)
        table, remarks = whole_table(data)
        del data
        return _Assembly(path, header, table, [*told, *remarks], sha256).recording(self.name)


READER = SessionReader()


def _folder(path: Path) -> Path | None:
    """Return the session folder that a path stands for, None if it is none."""
    try:
        if path.is_dir():
            inside = (path / HEADER_FILE).is_file() or (path / EVENTS_FILE).is_file()
            return path if inside else None
        if path.name in (EVENTS_FILE, HEADER_FILE) and path.is_file():
            return path.parent
    except (OSError, ValueError):
        return None
    return None


def _events(path: Path) -> tuple[bytes, str, list[str]]:
    """Return the rows of an events file, its hash, and what was left out of a large one."""
    if path.is_file() and path.stat().st_size > LARGE_BYTES:
        from feelcheck.formats._condensed_events import condensed_events

        return condensed_events(path)
    data = read_bytes(path)
    return data, hashlib.sha256(data).hexdigest(), []


def _is_ours(folder: Path) -> bool:
    with (folder / HEADER_FILE).open("rb") as stream:
        return b'"feelcheck"' in stream.read(65536) or (folder / EVENTS_FILE).is_file()


class _Assembly:
    """The parts of a recording, from the rows of its events file."""

    def __init__(
        self, path: Path, header: dict[str, Any], table: pd.DataFrame, remarks: list[str], sha256: str
    ) -> None:
        self.path, self.header, self.sha256 = path, header, sha256
        self.remarks = remarks
        table = _possible(table, remarks)
        self.kinds = _categories(table["kind"])
        self.names = _categories(table["name"])
        self.kind = table["kind"].cat.codes.to_numpy()
        self.label = table["name"].cat.codes.to_numpy()
        self.value = table["value"].to_numpy()
        clock = header.get("clock")
        self.clock = clock if isinstance(clock, dict) else {}
        lo, hi = table["t_lo_ns"].to_numpy(), table["t_hi_ns"].to_numpy()
        lo, hi, joints = forward(np.minimum(lo, hi), hi, self._is("axis"))
        start_ns = self.clock.get("start_ns")
        start_ns = start_ns if isinstance(start_ns, int) and hi.size and 0 <= start_ns <= hi[0] else None
        origin = (int(lo[0]) if hi.size else 0) if start_ns is None else start_ns
        self.t_lo_s, self.t_hi_s = (lo - origin) * 1e-9, (hi - origin) * 1e-9
        self.joints = joints
        if joints:
            remarks.append(f"the clock steps back {counted(len(joints), 'time')}: the parts were joined at gaps")

    def _is(self, kind: str) -> NDArray[np.bool_]:
        if kind not in self.kinds:
            return np.zeros(self.kind.size, dtype=bool)
        return np.asarray(self.kind == self.kinds.index(kind))

    def _rows(self, kind: str) -> list[tuple[float, float, str, int]]:
        at = np.flatnonzero(self._is(kind)).tolist()
        return [
            (float(self.t_lo_s[k]), float(self.t_hi_s[k]), self.names[self.label[k]], int(self.value[k])) for k in at
        ]

    def recording(self, format_name: str) -> Recording:
        streams = self._streams()
        complete = self.header.get("recording") == "complete"
        if not complete:
            self.remarks.append("the recording was not finished: it is read as far as it goes")
        if not streams:
            raise FormatError(
                "The session is too short: no axis moved before its recording ended.",
                {"folder": self.path, "rows": self.kind.size, "recording": self.header.get("recording", "unknown")},
                _AGAIN,
            )
        return Recording(
            streams=streams,
            sticks=self._sticks({stream.name for stream in streams}),
            buttons=tuple(
                ButtonEvent(t_lo_s=lo, t_hi_s=hi, name=name, value=value)
                for lo, hi, name, value in self._rows("button")
            ),
            cues=self._cues(),
            gaps=self._gaps(),
            provenance=Provenance(
                path=str(self.path),
                format=format_name,
                specimen=str(self.header.get("specimen", "")),
                state=str(self.header.get("state", "")),
                simulated=bool(self.header.get("simulated", False)),
                complete=complete,
                facts=MappingProxyType(self._facts()),
                sha256=self.sha256,
                remarks=tuple(self.remarks),
            ),
            truth=MappingProxyType(dict(_mapping(self.header.get("truth")))),
        )

    def _axes(self) -> dict[str, Mapping[str, Any]]:
        axes = self.header.get("axes")
        listed = [axis for axis in axes if isinstance(axis, dict) and "name" in axis] if isinstance(axes, list) else []
        return {str(axis["name"]): axis for axis in listed}

    def _streams(self) -> tuple[Stream, ...]:
        described = self._axes()
        axis = np.flatnonzero(self._is("axis"))
        found = np.unique(self.label[axis]).tolist()
        if len(found) > _MOST_AXES:
            facts = {"folder": self.path, "got": f"{len(found)} axes", "allowed": _MOST_AXES}
            raise FormatError("A session holds more axes than any pad has.", facts, _AGAIN)
        order = {name: k for k, name in enumerate(described)}
        names = sorted((self.names[code] for code in found), key=lambda name: (order.get(name, len(order)), name))
        clock = _CLOCKS.get(str(self.clock.get("kind", "host")), "host")
        streams = []
        for name in names:
            at = axis[self.label[axis] == self.names.index(name)]
            time = TimeBase(t_lo_s=self.t_lo_s[at], t_hi_s=self.t_hi_s[at], clock=clock)
            streams.append(
                Stream(
                    name=name,
                    time=time,
                    codes=self.value[at],
                    scale=_scale(described.get(name, {})),
                    reports="on_change",
                )
            )
        return tuple(streams)

    def _sticks(self, present: set[str]) -> tuple[StickAxes, ...]:
        pairs: dict[str, dict[str, str]] = {}
        for name, axis in self._axes().items():
            stick = str(axis.get("stick") or "")
            if stick and name in present:
                pairs.setdefault(stick, {})["y" if name.lower().endswith("y") else "x"] = name
        return tuple(StickAxes(stick=stick, x=pair.get("x", ""), y=pair.get("y", "")) for stick, pair in pairs.items())

    def _cues(self) -> tuple[Cue, ...]:
        cues, n_unknown = [], 0
        for _, hi, text, _ in self._rows("cue"):
            try:
                cues.append(Cue.parse(text, hi))
            except ValueError:
                n_unknown += 1
        if n_unknown:
            self.remarks.append(f"{counted(n_unknown, 'cue')} of an unknown kind left out")
        return _counted(sorted(cues, key=lambda cue: cue.t_s), self._rows("note"))

    def _gaps(self) -> tuple[Gap, ...]:
        gaps = [Gap(start_s=lo, end_s=hi, reason=name) for lo, hi, name, _ in self._rows("gap")]
        for row in self.joints:
            end_s = float(self.t_hi_s[row])
            gaps.append(Gap(start_s=end_s, end_s=end_s, reason="the clock stepped back"))
        plugged = [hi for _, hi, _, _ in self._rows("plug")]
        end_s = float(self.t_hi_s[-1]) if self.t_hi_s.size else 0.0
        for lo, hi, _, _ in self._rows("unplug"):
            back = next((t_s for t_s in plugged if t_s > hi), end_s)
            gaps.append(Gap(start_s=lo, end_s=max(hi, back), reason="unplugged"))
        return tuple(sorted(gaps, key=lambda gap: gap.start_s))

    def _facts(self) -> dict[str, str]:
        facts = {key: str(self.header[key]) for key in ("script", "source", "operator") if self.header.get(key)}
        facts |= {str(key): str(value) for key, value in _mapping(self.header.get("facts")).items()}
        for key, value in _mapping(self.header.get("device")).items():
            if isinstance(value, str | int | float) and value != "":
                facts[str(key)] = str(value)
        for name, axis in self._axes().items():
            for key in ("polarity", "rises_toward"):
                if axis.get(key) is not None:
                    facts[f"{name}.{key}"] = str(axis[key])
        return facts


def _possible(table: pd.DataFrame, remarks: list[str]) -> pd.DataFrame:
    """Return the rows without those whose stamp is impossible beside its neighbours'."""
    t_s = table["t_hi_ns"].to_numpy() * 1e-9
    impossible = strays(t_s, far_s(t_s))
    if not impossible.any():
        return table
    n, first = int(np.count_nonzero(impossible)), int(np.flatnonzero(impossible)[0]) + 1
    remarks.append(f"{counted(n, 'row')} with an impossible time left out (the first is row {first})")
    return table.loc[~impossible].reset_index(drop=True)


def _counted(cues: list[Cue], notes: list[tuple[float, float, str, int]]) -> tuple[Cue, ...]:
    """Return the cues, marked where a try was not accepted and a later one was.

    Where no try of a request was accepted all of them stand: they are all there is.
    """
    dropped: set[int] = set()
    tries: list[int] = []
    for _, t_s, note, _ in notes:
        verdict, _, text = note.partition(": ")
        at = [k for k, cue in enumerate(cues) if cue.t_s <= t_s and cue.text == text][-1:]
        if verdict.startswith("rejected"):
            tries = [k for k in tries if cues[k].text == text] + at
        elif verdict.startswith("accepted"):
            dropped.update(k for k in tries if cues[k].text == text)
            tries = []
        elif verdict.startswith("gone on"):
            tries = []
    return tuple(replace(cue, counts=k not in dropped) for k, cue in enumerate(cues))


def _categories(column: pd.Series[Any]) -> list[str]:
    return [str(name) for name in column.cat.categories]


def _mapping(value: Any) -> Mapping[Any, Any]:
    return value if isinstance(value, dict) else {}


def _scale(axis: Mapping[str, Any]) -> AxisScale:
    try:
        return AxisScale(centre=float(axis.get("centre", 0)), reach=float(axis.get("reach", 32767)))
    except (TypeError, ValueError):
        return AxisScale()
