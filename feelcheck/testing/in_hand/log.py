"""A whole log of one world: rows, truth, a file or a recording."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import AxisScale, FloatArray, Provenance, Recording, Stream, TimeBase
from feelcheck.testing.in_hand.aim import flick_aims, free_aims
from feelcheck.testing.in_hand.electronics import filtered_codes, output_codes, sensed, through_pole
from feelcheck.testing.in_hand.mechanics import STEP_S, stick_path
from feelcheck.testing.in_hand.reports import arrivals, logged_rows, report_instants
from feelcheck.testing.in_hand.world import HandWorld

__all__ = ["HandLog", "converted", "simulate_log", "truth_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandLog:
    """The rows of one log and what is true of them.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Time stamps of the rows.
    x, y : ndarray of int64, shape (n,)
        Codes of both axes on a signed 16-bit scale.
    truth : Mapping[str, float]
        ``"x.rising.smoothing_delay_s"``, ``"x.rising.tau_s"`` (absent without a pole), ... and ``"report_interval_s"``.
    on_change : bool
        Whether unchanged reports have no row.
    """

    t_s: FloatArray
    x: NDArray[np.int64]
    y: NDArray[np.int64]
    truth: Mapping[str, float]
    on_change: bool = False

    def write_csv(self, path: Path) -> None:
        """Write the rows as a plain table with a time column in microseconds.

        Parameters
        ----------
        path : Path
            The file; an older one is replaced.
        """
        table = np.column_stack([np.rint(self.t_s * 1e6).astype(np.int64), self.x, self.y])
        np.savetxt(path, table, fmt="%d", delimiter=",", header="time_us,x,y", comments="")

    def recording(self) -> Recording:
        """Return the rows as a recording in memory."""
        time = TimeBase.from_instants(np.rint(self.t_s * 1e6) / 1e6)
        reports: Literal["every", "on_change"] = "on_change" if self.on_change else "every"
        scale = AxisScale()
        streams = tuple(
            Stream(name=name, time=time, codes=codes, scale=scale, reports=reports)
            for name, codes in (("x", self.x), ("y", self.y))
        )
        return Recording(streams=streams, provenance=Provenance(format="simulated", simulated=True), truth=self.truth)


def truth_of(world: HandWorld) -> Mapping[str, float]:
    """Return the ideal response of a world's electronics, by axis and direction, s.

    Parameters
    ----------
    world : HandWorld
        The simulated pad and person.
    """
    truth = {"report_interval_s": world.link.report_s}
    for axis in "xy":
        for direction in ("rising", "falling"):
            truth[f"{axis}.{direction}.smoothing_delay_s"] = world.smoothing_delay_s(axis, direction)
            tau_s = world.time_constant_s(axis, direction)
            if tau_s is not None:
                truth[f"{axis}.{direction}.tau_s"] = tau_s
    return MappingProxyType(truth)


def converted(
    world: HandWorld, x: FloatArray, y: FloatArray, begin_s: float, rng: np.random.Generator, *, late_s: float = 0.0
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return the firmware's update instants, s, and its outputs, shape (n, 2).

    Parameters
    ----------
    world : HandWorld
        Sensors, poles and firmware.
    x, y : ndarray, shape (m,), fractions of the rim's radius
        Positions every `STEP_S`.
    begin_s : float, s
        Instant of the first update.
    rng : numpy.random.Generator
        Source of the noise.
    late_s : float, s
        How much later than an update the conversion is (negative: the value is older).
    """
    firmware = world.firmware
    volts = []
    for own, other, poles in ((x, y, world.poles_x_s), (y, x, world.poles_y_s)):
        signal = sensed(own, other, world.sensor)
        for rising_s, falling_s in poles:
            signal = through_pole(signal, rising_s, falling_s)
        volts.append(signal)
    updates_s = np.arange(begin_s, (x.size - 1) * STEP_S, firmware.update_s)
    codes_x = filtered_codes(volts[0], updates_s + late_s, firmware, rng)
    codes_y = filtered_codes(volts[1], updates_s + late_s + firmware.scan_delay_s, firmware, rng)
    return updates_s, np.stack(output_codes(codes_x, codes_y, firmware), axis=1)


def simulate_log(world: HandWorld, rng: np.random.Generator) -> HandLog:
    """Return one log of a world.

    Parameters
    ----------
    world : HandWorld
        The thumb, the stick, its electronics and the host.
    rng : numpy.random.Generator
        Where all chance comes from.

    Examples
    --------
    >>> log = simulate_log(HandWorld(poles_x_s=((0.005, 0.005),), n_flicks=1), np.random.default_rng(1))
    >>> log.truth["x.rising.smoothing_delay_s"], bool(log.x.max() > 15000)
    (0.005, True)
    """
    aim = (free_aims if world.free_play else flick_aims)(world, STEP_S, rng)
    x, y = stick_path(world, aim, rng)
    begin_s = float(rng.uniform(0.0, world.firmware.update_s))
    updates_s, outputs = converted(world, x, y, begin_s, rng)
    if world.link.report_s == world.firmware.update_s:
        sent_s = updates_s * (1.0 + world.link.clock_error) + 0.0001
        shown = np.arange(updates_s.size)
    else:
        sent_s = report_instants(x.size * STEP_S, world.link, rng)
        shown = np.clip(np.searchsorted(updates_s, sent_s, side="right") - 1, 0, None)
    arrived_s, arrives = arrivals(sent_s, world.link, rng)
    reported = outputs[shown[arrives]]
    stamps_s, rows = logged_rows(arrived_s[arrives], reported, world.host, rng)
    codes = reported[rows]
    return HandLog(
        t_s=stamps_s, x=codes[:, 0], y=codes[:, 1], truth=truth_of(world), on_change=world.host.style == "changes"
    )
