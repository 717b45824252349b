"""The header of a session folder: a data package that says what the events file holds and where it came from."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, get_args

from feelcheck.errors import FormatError
from feelcheck.inputs import file_bytes, json_document
from feelcheck.outputs import EVENTS_FILE, HEADER_FILE, locked, replaced

__all__ = [
    "HEADER_FILE",
    "RecordingState",
    "SessionHeader",
    "folder_label",
    "folder_name",
    "header_edited",
    "new_session_folder",
    "read_header",
]

RecordingState = Literal["recording", "complete", "interrupted", "closed"]
_STATES = get_args(RecordingState)
_MAX_LABEL = 60
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{k}" for port in ("com", "lpt") for k in range(1, 10))}
_COLUMNS = (
    ("t_lo_ns", "integer", "ns", "Lower end of the bracket of the instant: start of the poll before."),
    ("t_hi_ns", "integer", "ns", "Upper end of the bracket of the instant: end of the poll that saw it."),
    ("kind", "string", "", "axis, button, cue, gap, plug, unplug or note."),
    ("name", "string", "", "Axis or button; the text of a cue, a gap or a note."),
    ("value", "integer", "counts", "Raw code of an axis; 1 or 0 of a button."),
    ("end", "string", "", "Guard: a row without the full stop is torn."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionHeader:
    """What a session says about itself.

    Parameters
    ----------
    specimen, state, operator : str
        Labels: which specimen, in which state, recorded by whom.
    script, source : str
        Name of the flick script and of the source.
    device : Mapping[str, Any]
        What the source describes: device name, GUID, backend, hints, axes, clock, simulated, truth.
    started : str
        Date and time of the start (ISO 8601, with offset).
    tool_version : str
        Version of the program that recorded.
    recording : {"recording", "complete", "interrupted", "closed"}
        How far it came; closed is an unfinished one that nobody means to go on with.
    facts : Mapping[str, str]
        What was asked once and remembered: connection, firmware, cap, spring, recalibrated or not.
    capture : Mapping[str, Any]
        What the recording itself shows of its quality, once it ended; see `feelcheck.recorder.quality`.
    """

    specimen: str
    state: str
    script: str
    source: str
    device: Mapping[str, Any]
    started: str
    tool_version: str
    operator: str = ""
    recording: RecordingState = "recording"
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    capture: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))

    @classmethod
    def read(cls, folder: Path) -> SessionHeader:
        """Return the header of a session folder as it was written.

        Parameters
        ----------
        folder : Path
            The session's.

        Raises
        ------
        FormatError
            If the header is missing or does not describe a session.
        """
        own = read_header(folder)
        device = {**_table(own.get("device")), "clock": own.get("clock", "host"), "truth": _table(own.get("truth"))}
        return cls(
            **{key: str(own.get(key, "")) for key in ("specimen", "state", "script", "source", "tool_version")},
            device={**device, "axes": own.get("axes", []), "simulated": bool(own.get("simulated", False))},
            started=str(own.get("started", "")),
            operator=str(own.get("operator", "")),
            recording=own.get("recording", "recording"),
            facts={str(key): str(value) for key, value in _table(own.get("facts")).items()},
            capture=_table(own.get("capture")),
        )

    def document(self) -> dict[str, Any]:
        """Return the header as a data package (Frictionless Data Package and Table Schema)."""
        device = dict(self.device)
        clock = device.pop("clock", "host")
        return {
            "profile": "tabular-data-package",
            "name": folder_name(self.specimen, self.state).lower(),
            "title": f"Stick recording of {self.specimen} ({self.state})",
            "created": self.started,
            "resources": [_resource()],
            "feelcheck": {
                "schema": "feelcheck.session/1",
                "specimen": self.specimen,
                "state": self.state,
                "operator": self.operator,
                "script": self.script,
                "source": self.source,
                "tool_version": self.tool_version,
                "recording": self.recording,
                "capture": dict(self.capture),
                "simulated": bool(device.pop("simulated", False)),
                "clock": clock if isinstance(clock, dict) else {"kind": clock},
                "axes": [_axis(k, axis) for k, axis in enumerate(device.pop("axes", []))],
                "truth": dict(device.pop("truth", {})),
                "facts": dict(self.facts),
                "device": device,
            },
        }

    def write(self, folder: Path) -> None:
        """Write the header into a session folder, on the disk before it returns; the old one is replaced at once.

        Parameters
        ----------
        folder : Path
            The session's; it must exist.
        """
        _put(self.document(), folder)


@contextmanager
def header_edited(folder: Path) -> Iterator[dict[str, Any]]:
    """Yield what the tool keeps in a session's header, as it stands now; when the block ends it is put in place.

    Parameters
    ----------
    folder : Path
        The session. Until the block ends nobody else changes its header; what others wrote into it stays.

    Raises
    ------
    FormatError
        If the folder is no session.
    OutputError
        If somebody else holds the header.
    OSError
        If it cannot be written.
    """
    read_header(folder)
    with locked(folder / HEADER_FILE):
        document = _document(folder)
        yield document["feelcheck"]
        _put(document, folder)


def _put(document: Mapping[str, Any], folder: Path) -> None:
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False, default=_plain) + "\n"
    with replaced(folder / HEADER_FILE) as stream:
        stream.write(text.encode("utf-8"))


def _resource() -> dict[str, Any]:
    fields = []
    for name, kind, unit, description in _COLUMNS:
        fields.append({"name": name, "type": kind, "description": description} | ({"unit": unit} if unit else {}))
    return {
        "name": "events",
        "path": EVENTS_FILE,
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\n", "header": True},
        "schema": {"fields": fields},
    }


def _axis(index: int, axis: Mapping[str, Any]) -> dict[str, Any]:
    known = {"name": f"axis_{index}", "index": index, "stick": "", "centre": 0, "reach": 32767, "unit": "counts"}
    return {**known, "polarity": None, "rises_toward": None, **axis}


def _table(value: Any) -> dict[str, Any]:
    return dict(value) if isinstance(value, dict) else {}


def _plain(value: Any) -> Any:
    """Return a NumPy number as Python's own."""
    if hasattr(value, "item"):
        return value.item()
    return str(value)


def read_header(folder: Path) -> dict[str, Any]:
    """Return the tool's own part of a session's header, and when the session was started.

    Parameters
    ----------
    folder : Path
        A folder.

    Raises
    ------
    FormatError
        If the header is missing, is no JSON, or does not describe a session.
    """
    document = _document(folder)
    return {"started": str(document.get("created", "")), **document["feelcheck"]}


def _document(folder: Path) -> dict[str, Any]:
    path = folder / HEADER_FILE
    again = "Name a session folder that feelcheck log made, or its events.csv with feelcheck analyze's own options."
    try:
        document = json_document(file_bytes(path), path)
    except (FileNotFoundError, NotADirectoryError):
        what = f"A session folder needs its {HEADER_FILE}." if folder.exists() else "There is no such session."
        raise FormatError(what, {"folder": folder}, again) from None
    except FormatError as problem:
        raise FormatError(
            f"The {HEADER_FILE} of a session must be readable JSON.",
            {**problem.facts, "because": problem.sentence},
            again,
        ) from None
    own = document.get("feelcheck") if isinstance(document, dict) else None
    if not isinstance(own, dict):
        raise FormatError(
            f"The {HEADER_FILE} does not describe a recording session.", {"file": path, "missing": "feelcheck"}, again
        )
    if own.get("recording", "recording") not in _STATES:
        raise FormatError(
            "A session is recording, complete, interrupted or closed.", {"file": path, "got": own["recording"]}, again
        )
    return dict(document)


def folder_name(specimen: str, state: str) -> str:
    """Return the name of a session's folder on any file system.

    Parameters
    ----------
    specimen : str
        Name of the specimen.
    state : str
        Name of its state.

    Raises
    ------
    FormatError
        If the specimen's label holds no letter and no digit.

    Examples
    --------
    >>> folder_name("Alder / left", "C3 lifted")
    'Alder_left_C3_lifted'
    """
    label, condition = folder_label(specimen), folder_label(state)
    if not label:
        raise FormatError(
            "A specimen's label needs a letter or a digit.", {"got": repr(specimen)}, "Give it a name such as alder."
        )
    if label.lower() in _RESERVED:
        label += "_"
    return f"{label}_{condition}" if condition else label


def folder_label(text: str) -> str:
    """Return a name as it stands in a folder's: letters, digits and - are kept, all else is one _.

    Parameters
    ----------
    text : str
        A name as it was given.

    Examples
    --------
    >>> folder_label("alder, left")
    'alder_left'
    """
    kept = "".join(c if c.isalnum() or c == "-" else "_" for c in unicodedata.normalize("NFKC", text))
    return "_".join(part for part in kept.split("_") if part).strip("-")[:_MAX_LABEL]


def new_session_folder(out: Path, specimen: str, state: str) -> Path:
    """Make and return a folder that did not exist: the label, or the label with a number.

    Parameters
    ----------
    out : Path
        Folder in which it is made.
    specimen : str
        Name of the specimen.
    state : str
        Name of its state.

    Raises
    ------
    FormatError
        If the label is empty, or the folder cannot be made.
    """
    name = folder_name(specimen, state)
    number = 1
    while True:
        folder = out / (name if number == 1 else f"{name}_{number}")
        try:
            out.mkdir(parents=True, exist_ok=True)
            folder.mkdir()
        except FileExistsError:
            if not out.is_dir():
                raise FormatError(
                    "Sessions are kept in a folder.", {"got": out}, "Name another folder with --out."
                ) from None
            number += 1
        except OSError as problem:
            raise FormatError(
                "The session's folder cannot be made.",
                {"folder": folder, "reason": problem.strerror or problem},
                "Name a folder that you may write to with --out.",
            ) from None
        else:
            return folder
