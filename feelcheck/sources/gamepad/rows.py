"""From SDL's events to rows of a session, without what SDL makes up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from feelcheck.model import SourceEvent
from feelcheck.sources.gamepad.sdl import (
    AXIS_MOTION,
    BUTTON_DOWN,
    BUTTON_UP,
    DEVICE_ADDED,
    DEVICE_REMOVED,
    HAT_MOTION,
    QUEUE_FULL,
    SdlEvent,
)

__all__ = ["PadRows", "Translated"]


@dataclass(slots=True, kw_only=True)
class Translated:
    """Rows of one poll, whether the pad went away, and the indices of pads that came."""

    rows: list[SourceEvent] = field(default_factory=list)
    removed: bool = False
    added: list[int] = field(default_factory=list)


class PadRows:
    """Translator for one open pad.

    Parameters
    ----------
    instance : int
        SDL's instance number of the pad; events of others are left out.
    axis_names, button_names : sequence of str
        Names by index; what has none is named by its number.
    values : sequence of int
        Present values of the axes, by index.

    Notes
    -----
    When a pad is unplugged, SDL first reports every axis as going to zero and every button as released, in the same
    batch as the removal: those are left out. At the first motion of an axis SDL first reports the value that it had at
    the start: a report of the value that is known already never comes from the pad, and is left out too. A full queue
    means that events were lost: a gap row.
    """

    def __init__(
        self, instance: int, axis_names: Sequence[str], button_names: Sequence[str], values: Sequence[int] = ()
    ) -> None:
        self.instance = instance
        self._values = dict(enumerate(values))
        self._axes = dict(enumerate(axis_names))
        self._buttons = dict(enumerate(button_names))

    def translate(self, events: Sequence[SdlEvent], t_lo_ns: int, t_hi_ns: int) -> Translated:
        """Return the rows of one poll, bracketed by the start of the poll before and the end of this one.

        Parameters
        ----------
        events : sequence of SdlEvent
            As they were drained in this poll.
        t_lo_ns, t_hi_ns : int, ns
            The bracket, on the recording's clock.
        """
        out, lost = Translated(), list[SourceEvent]()
        for kind, _, which, index, state, value in events:
            if kind == DEVICE_ADDED:
                out.added.append(which)
            elif kind == QUEUE_FULL:
                lost.append((t_lo_ns, t_hi_ns, "gap", "event queue full", value))
            elif which != self.instance:
                continue
            elif kind == AXIS_MOTION and self._values.get(index) != value:
                self._values[index] = value
                out.rows.append((t_lo_ns, t_hi_ns, "axis", self._axes.get(index) or f"axis_{index}", value))
            elif kind in (BUTTON_DOWN, BUTTON_UP):
                out.rows.append((t_lo_ns, t_hi_ns, "button", self._buttons.get(index) or f"button_{index}", state))
            elif kind == HAT_MOTION:
                out.rows.append((t_lo_ns, t_hi_ns, "button", f"hat_{index}", state))
            elif kind == DEVICE_REMOVED:
                out.removed = True
        if out.removed:
            out.rows = [(t_lo_ns, t_hi_ns, "unplug", "pad", 0)]
        out.rows += lost
        return out
