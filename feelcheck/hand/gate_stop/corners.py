"""Flicks into the corners of a square gate: each axis meets a side of its own, at an instant of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.numbers import CORNER_FLICKS, FLICKS_A_CORNER, GATHERED, LEAST_SPREAD_RAD, SWINGS_PAST
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import FloatArray

__all__ = ["axes_apart", "ends_in_corners"]


ANOTHER_SIDE = "meets another side of the gate"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """One flick between both axes: quadrant, direction half way and at the end, how far each axis goes past its end."""

    quadrant: tuple[int, int]
    half_way_rad: float
    end_rad: float
    past: tuple[float, float]


def ends_in_corners(windows: Sequence[FlickWindow]) -> bool:
    """Tell whether flicks that set out in scattered directions all end in the same corners, with nothing turned back.

    Parameters
    ----------
    windows : sequence of FlickWindow
        Those with something to say.
    """
    ways = [_way(window) for window in windows if all(window.sign) and not any(window.why_not_axis)]
    corners = [[way for way in ways if way.quadrant == quadrant] for quadrant in {way.quadrant for way in ways}]
    corners = [own for own in corners if len(own) >= FLICKS_A_CORNER]
    if sum(map(len, corners)) < CORNER_FLICKS:
        return False
    set_out = np.concatenate([_about_median([way.half_way_rad for way in own]) for own in corners])
    ended = np.concatenate([_about_median([way.end_rad for way in own]) for own in corners])
    spread = float(np.median(np.abs(set_out)))
    if spread < LEAST_SPREAD_RAD or float(np.median(np.abs(ended))) > GATHERED * spread:
        return False
    past = np.array([way.past for own in corners for way in own])
    led = np.abs(set_out) >= spread
    leader = np.where(set_out > 0, past[:, 1], past[:, 0])
    return bool(np.median(leader[led] / np.abs(set_out[led])) < SWINGS_PAST)


def axes_apart(windows: Sequence[FlickWindow]) -> list[FlickWindow]:
    """Return each axis of each flick as a flick of its own, along that axis.

    Parameters
    ----------
    windows : sequence of FlickWindow
        Those with something to say.
    """
    return [_alone(window, axis) for window in windows for axis in range(2) if not window.why_not_axis[axis]]


def _alone(window: FlickWindow, axis: int) -> FlickWindow:
    own = np.arange(2) == axis
    sign = window.sign[axis]
    return replace(
        window,
        direction_deg=90.0 * axis + (180.0 if sign < 0 else 0.0),
        y=np.where(own[:, None], window.y, 0.0),
        lead_y=np.where(own[:, None], window.lead_y, 0.0),
        seen=window.seen & own[:, None],
        sign=(sign, 0) if axis == 0 else (0, sign),
        why_not_axis=("", ANOTHER_SIDE) if axis == 0 else (ANOTHER_SIDE, ""),
    )


def _way(window: FlickWindow) -> _Way:
    way = window.y - window.y[:, :1]
    end = np.median(way[:, -max(3, way.shape[1] // 4) :], axis=1)
    half = way[:, int(np.argmax(end @ way > 0.5 * float(end @ end)))]
    past = way.max(axis=1) / end - 1.0
    return _Way(
        quadrant=window.sign,
        half_way_rad=float(np.arctan2(half[1], half[0])),
        end_rad=float(np.arctan2(end[1], end[0])),
        past=(float(past[0]), float(past[1])),
    )


def _about_median(values: Sequence[float]) -> FloatArray:
    return np.asarray(np.array(values) - np.median(values))
