"""A stick axis as it was logged: raw codes, their scale, and when they were seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["AxisScale", "Clock", "FloatArray", "Stream", "TimeBase", "frozen_array"]

FloatArray = NDArray[np.float64]
Clock = Literal["host", "kernel", "log", "model"]


def frozen_array(values: Any, dtype: Any = np.float64) -> NDArray[Any]:
    """Return a read-only, contiguous one-dimensional copy of values.

    Parameters
    ----------
    values : array-like, shape (n,)
        Anything that numpy makes an array of.
    dtype : dtype, optional
        Type of the copy.

    Raises
    ------
    ValueError
        For any other number of dimensions.
    """
    array = np.array(values, dtype=dtype, order="C", copy=True)
    if array.ndim != 1:
        raise ValueError(f"a one-dimensional array is needed, got shape {array.shape}")
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimeBase:
    """When each value was seen: every instant lies in the bracket ``(t_lo_s, t_hi_s]``.

    Parameters
    ----------
    t_lo_s, t_hi_s : ndarray, shape (n,), s
        Both ends of each instant's bracket, non-decreasing; equal where the log gives one time stamp.
    clock : {"host", "kernel", "log", "model"}
        Who stamped: the polling program, the kernel's input core, an unknown logger (``"log"``), a simulator.
    regular_interval_s : float or None
        The sampling interval when the times are a regular grid by construction (a stated rate), else None.

    Raises
    ------
    ValueError
        On unequal lengths, times that step back, or a bracket with ``t_lo_s > t_hi_s``.
    """

    t_lo_s: FloatArray
    t_hi_s: FloatArray
    clock: Clock = "log"
    regular_interval_s: float | None = None

    def __post_init__(self) -> None:
        for name in ("t_lo_s", "t_hi_s"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        if self.t_lo_s.shape != self.t_hi_s.shape:
            raise ValueError(f"time brackets differ in length: {self.t_lo_s.shape} and {self.t_hi_s.shape}")
        if np.any(np.diff(self.t_hi_s) < 0) or np.any(self.t_lo_s > self.t_hi_s):
            raise ValueError("times must not step back and a bracket must not be inverted")

    @classmethod
    def from_instants(cls, t_s: Any, *, clock: Clock = "log", regular_interval_s: float | None = None) -> TimeBase:
        """Return a time base with one stamp an instant, without brackets.

        Parameters
        ----------
        t_s : array-like, shape (n,), s
            Instants that do not step back.
        clock : str
            Whose clock it is.
        regular_interval_s : float, optional, s
            The interval, where the instants are counted and not read.
        """
        return cls(t_lo_s=t_s, t_hi_s=t_s, clock=clock, regular_interval_s=regular_interval_s)

    @property
    def t_s(self) -> FloatArray:
        """The instants themselves: the upper ends of the brackets."""
        return self.t_hi_s

    @property
    def duration_s(self) -> float:
        """Time from the first to the last instant."""
        return float(self.t_hi_s[-1] - self.t_hi_s[0]) if self.t_hi_s.size else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisScale:
    """How codes become fractions of full throw.

    Parameters
    ----------
    centre : float, codes
        The code of the nominal centre.
    reach : float, codes
        Codes from the centre to nominal full throw (32767 for a 16-bit axis, 1.0 for a log in fractions).
    unit : {"counts", "fraction"}
        Whether the log's own numbers are whole counts or fractions.
    """

    centre: float = 0.0
    reach: float = 32767.0
    unit: Literal["counts", "fraction"] = "counts"

    def __post_init__(self) -> None:
        if not self.reach > 0:
            raise ValueError(f"the reach of an axis must be positive, got {self.reach}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stream:
    """One axis of a log.

    Parameters
    ----------
    name : str
        The column's or axis' own name (``"left_x"``).
    time : TimeBase
        When each code was seen, n instants.
    codes : ndarray, shape (n,)
        The log's own numbers: int64 where the log is in counts, float64 where it is in fractions.
    scale : AxisScale
        How codes become fractions of full throw.
    reports : {"every", "on_change"}
        Whether every report of the device has a row, or only those in which this axis (or, in a table, any axis)
        changed.
    """

    name: str
    time: TimeBase
    codes: NDArray[Any]
    scale: AxisScale = AxisScale()
    reports: Literal["every", "on_change"] = "every"

    def __post_init__(self) -> None:
        whole = np.issubdtype(np.asarray(self.codes).dtype, np.integer)
        object.__setattr__(self, "codes", frozen_array(self.codes, np.int64 if whole else np.float64))
        if self.codes.shape != self.time.t_hi_s.shape:
            raise ValueError(f"{self.name}: {self.codes.size} codes for {self.time.t_hi_s.size} instants")

    @property
    def fractions(self) -> FloatArray:
        """The codes as fractions of full throw, shape (n,)."""
        return np.asarray((self.codes - self.scale.centre) / self.scale.reach, dtype=np.float64)
