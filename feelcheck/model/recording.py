"""A recording: streams, buttons, cues, gaps, and where it all came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from feelcheck.model.presented import Presented
from feelcheck.model.stream import Stream

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Action", "ButtonEvent", "Cue", "Gap", "Provenance", "Recording", "Segment", "StickAxes"]


class Action(StrEnum):
    """What a cue asks of the person."""

    CIRCLE = "circle"
    FLICK = "flick"
    HOLD = "hold"
    RELEASE = "release"
    REST = "rest"
    ROLL = "roll"
    PAUSE = "pause"
    PRESS = "press"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One request of the flick script, at the instant it was shown.

    Parameters
    ----------
    t_s : float
        Instant on the recording's clock.
    action : Action
        What was asked.
    stick : str
        Which stick (``"left"``, ``"right"``), empty where it does not matter.
    direction_deg : float or None
        Asked direction, counter-clockwise from right (+x), 90 = up (+y).
    counts : bool
        False where what was done on this request was not accepted and the request was repeated.

    Examples
    --------
    >>> Cue(t_s=0.0, action=Action.FLICK, stick="left", direction_deg=45.0).text
    'flick stick=left direction_deg=45'
    >>> Cue.parse("flick stick=left direction_deg=45", 1.0).direction_deg
    45.0
    """

    t_s: float
    action: Action
    stick: str = ""
    direction_deg: float | None = None
    counts: bool = True

    @property
    def text(self) -> str:
        """The cue in one line, as it stands in a session's events file."""
        words = [str(self.action)]
        if self.stick:
            words.append(f"stick={self.stick}")
        if self.direction_deg is not None:
            words.append(f"direction_deg={self.direction_deg:g}")
        return " ".join(words)

    @classmethod
    def parse(cls, text: str, t_s: float) -> Cue:
        """Return the cue that a session's row stands for.

        Parameters
        ----------
        text : str
            Action and words, such as ``"flick stick=left direction_deg=90"``.
        t_s : float, s
            When it was shown.

        Raises
        ------
        ValueError
            On an unknown action or word.
        """
        action, *words = text.split()
        pairs = dict(word.split("=", 1) for word in words)
        direction = pairs.get("direction_deg")
        return cls(
            t_s=t_s,
            action=Action(action),
            stick=pairs.get("stick", ""),
            direction_deg=None if direction is None else float(direction),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch in which reports may be missing (unplugged, queue overflow, time restart)."""

    start_s: float
    end_s: float
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ButtonEvent:
    """A button going down (1) or up (0), inside the bracket ``(t_lo_s, t_hi_s]``."""

    t_lo_s: float
    t_hi_s: float
    name: str
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StickAxes:
    """Which two streams are one stick; either name may be empty when only one axis was logged."""

    stick: str
    x: str
    y: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where a recording came from.

    Parameters
    ----------
    path : str
        File or folder as the user gave it; empty for a recording made in memory.
    format : str
        Name of the reader (``"session"``, ``"delimited"``) or of the source.
    specimen, state : str
        Label of the specimen and of its state (``"as_found"``).
    simulated : bool
        True where the data came from a simulated world; such data stays out of real verdicts.
    complete : bool
        False where a session was not finished.
    facts : Mapping[str, str]
        Everything else that a comparison may need: rate, script, source, connection, firmware, cap, spring, ...
    sha256 : str
        Hash of the file that was read, empty if none.
    remarks : tuple of str
        What the reader had to say (torn line dropped, time restarted at line 40, ...).
    """

    path: str = ""
    format: str = ""
    specimen: str = ""
    state: str = ""
    simulated: bool = False
    complete: bool = True
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    sha256: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording(Presented):
    """Everything one log holds.

    Parameters
    ----------
    streams : tuple of Stream
        The axes, each with its own time base (those of one table share the same TimeBase object).
    sticks : tuple of StickAxes
        Which streams belong together; empty lets the analysis pair them by name.
    buttons, cues, gaps : tuples
        Button events, script requests, stretches without reports, in time order.
    provenance : Provenance
        Where it came from.
    truth : Mapping[str, float | str]
        What the simulator knows about the recording (empty for real ones). Keys carry their unit:
        ``"left_x.rising.tau_s"``.
    """

    streams: tuple[Stream, ...]
    provenance: Provenance
    sticks: tuple[StickAxes, ...] = ()
    buttons: tuple[ButtonEvent, ...] = ()
    cues: tuple[Cue, ...] = ()
    gaps: tuple[Gap, ...] = ()
    truth: Mapping[str, float | str] = field(default_factory=lambda: MappingProxyType({}))

    def to_frame(self) -> pd.DataFrame:
        """Return a wide pandas table: ``t_s``, then one column of codes an axis."""
        frame: pd.DataFrame = import_module("feelcheck.formats.export").to_wide(self)
        return frame

    def stream(self, name: str) -> Stream:
        """Return one axis.

        Parameters
        ----------
        name : str
            Its name.

        Raises
        ------
        KeyError
            If there is none of that name.
        """
        for stream in self.streams:
            if stream.name == name:
                return stream
        raise KeyError(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A half-open stretch ``[start_s, end_s)`` of one stick's motion and what it is.

    Parameters
    ----------
    kind : {"rest", "flick", "hold", "release", "roll", "circle"}
        A flick runs from the start of the outward motion to the end of the hold at the rim; a release from letting
        go until the stick rests.
    start_s, end_s : float
        Limits on the recording's clock.
    stick : str
        Name of the `StickAxes`.
    direction_deg : float or None
        Direction actually moved (measured, not asked), for a flick and a release.
    """

    kind: Literal["rest", "flick", "hold", "release", "roll", "circle"]
    start_s: float
    end_s: float
    stick: str
    direction_deg: float | None = None
