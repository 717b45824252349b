"""What a bench capture holds and what it tells: the result of `feelcheck bench`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.hand import Trace
from feelcheck.model.presented import Presented
from feelcheck.model.recording import Provenance
from feelcheck.model.stream import FloatArray, frozen_array

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["BenchDirection", "BenchResult", "Capture", "Channel"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """One column of a capture: n values on the capture's time axis.

    Parameters
    ----------
    name : str
        Without its unit.
    values : ndarray, shape (n,)
        In `unit`; NaN where the instrument was over range or had not begun.
    unit : str
        As in the file (``"V"``, ``"mV"`` is converted to V; ``"A"``; ``"counts"`` for raw converter codes; empty if
        unknown).
    role : {"drive", "output", "other", ""}
        What the reader takes it for; empty when it could not tell.
    written : str
        The cell of the file's heading that tells name and unit; empty where none does.
    """

    name: str
    values: FloatArray
    unit: str = ""
    role: Literal["drive", "output", "other", ""] = ""
    written: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", frozen_array(self.values))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Capture(Presented):
    """One oscilloscope capture (or a table of typed readings) on one time axis.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Strictly increasing.
    interval_s : float or None
        The sample interval if the times are a regular grid.
    channels : tuple of Channel
        Every value column.
    provenance : Provenance
        File, format, remarks; `facts` holds scope settings that were found (averaging, bandwidth, probe, supply).
    understood : Mapping[str, str]
        What the reader understood and from where: time column, unit, interval and its origin, separator, ...
    truth : Mapping[str, float | str]
        What the simulator knows; empty for real captures.
    """

    t_s: FloatArray
    interval_s: float | None
    channels: tuple[Channel, ...]
    provenance: Provenance
    understood: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    truth: Mapping[str, float | str] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        object.__setattr__(self, "t_s", frozen_array(self.t_s))

    def to_frame(self) -> pd.DataFrame:
        """Return a pandas table: ``t_s``, then one column a channel with its unit."""
        frame: pd.DataFrame = import_module("feelcheck.formats.export").capture_table([self])
        return frame

    def channel(self, name: str) -> Channel:
        """Return one column.

        Parameters
        ----------
        name : str
            Its name, without its unit.

        Raises
        ------
        KeyError
            If there is none of that name.
        """
        for channel in self.channels:
            if channel.name == name:
                return channel
        raise KeyError(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchDirection:
    """The output's response in one electrical direction; times in seconds."""

    time_constant: Estimate
    poles: tuple[Estimate, ...] = ()
    transition_10_90: Estimate
    step_transition_10_90: Estimate
    dead_time: Estimate
    smoothing_delay: Estimate
    mean_delay: Estimate
    settled_fraction: Estimate
    saturated: bool = False
    n_edges: int = 0
    model: str = "none"
    extra: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BenchResult(Presented):
    """The result of `feelcheck bench` on one capture or on repeats of one capture."""

    capture: Capture
    drive_name: str | None
    output_name: str
    drive_transition: Estimate | None
    drive_swing: Estimate | None
    drive_kind: str
    rising: BenchDirection | None
    falling: BenchDirection | None
    asymmetry: Estimate
    update_interval: Estimate
    noise: Estimate
    swing: Estimate
    explanation: tuple[str, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    traces: tuple[Trace, ...] = ()
    extra: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    outputs: tuple[BenchResult, ...] = ()

    @property
    def sides(self) -> dict[str, BenchDirection]:
        """The directions that were captured, by name, rising first."""
        both: dict[str, BenchDirection | None] = {"rising": self.rising, "falling": self.falling}
        return {name: side for name, side in both.items() if side is not None}
