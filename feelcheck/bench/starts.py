"""Where the search for a candidate's parameters begins, and where it ends."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

import numpy as np

from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import FloatArray

__all__ = ["limits_of", "starts_of"]

Point = tuple[ModelSpec, FloatArray]
"""A candidate and its nonlinear parameters."""
PAIRS = {
    "two_pole": ((-0.05, -1.5), (-0.02, -3.0), (-0.4, -0.7), (0.3, -0.3), (0.0, -4.0)),
    "pole_and_average": tuple((np.log(1 - share), np.log(2 * share)) for share in (0.2, 0.5, 0.8)),
}
"""Starts of two times as logarithms over the single pole's; pole and average share its delay."""


def limits_of(spec: ModelSpec, window: EdgeWindow, scale: float) -> tuple[FloatArray, FloatArray]:
    """Return the lowest and the highest nonlinear parameters of a candidate, each of shape (p,).

    Parameters
    ----------
    spec : ModelSpec
        The candidate.
    window : EdgeWindow
        The edge: no time below a fiftieth of its sample interval or above 60 of its lengths can be told.
    scale : float
        Unit of the dead time parameter, s.
    """
    fastest = np.log(0.02 * window.interval_s)
    slowest = np.log(60.0 * window.span_s)
    low, high = [fastest] * spec.n_shape, [slowest] * spec.n_shape
    if spec.shape == "second_order":
        low[1], high[1] = np.log(0.005), np.log(0.98)
    if spec.weak:
        high[-1] = np.log(0.3 * window.span_s)
    if spec.dead:
        early = -1.5 * window.interval_s if window.driven else max(float(window.t_s[0]), -3.0 * scale)
        low.append(early / scale)
        high.append(0.9 * float(window.t_s[-1]) / scale)
    if spec.clip_low:
        low.append(0.005)
        high.append(0.95)
    if spec.clip_high:
        low.append(0.05)
        high.append(0.995)
    return np.array(low), np.array(high)


def starts_of(spec: ModelSpec, window: EdgeWindow, scale: float, near: Point | None = None) -> list[FloatArray]:
    """Return starts, each of shape (p,), on a grid laid by the edge's rough duration and a simpler candidate's end.

    Parameters
    ----------
    spec : ModelSpec
        The candidate.
    window : EdgeWindow
        The edge.
    scale : float
        Unit of the dead time parameter, s.
    near : (ModelSpec, ndarray of shape (p,)), optional
        A simpler candidate and its best parameters on the same edge.
    """
    shapes = list(_shape_starts(spec, window, near))
    deads = list(_dead_starts(window, scale)) if spec.dead else [None]
    clips: list[tuple[float | None, float | None]] = list(
        itertools.product(
            (0.02, 0.1, 0.3, 0.6) if spec.clip_low else (None,),
            (0.15, 0.4, 0.7, 0.9, 0.98) if spec.clip_high else (None,),
        )
    )
    same_clips = near is not None and (near[0].clip_low, near[0].clip_high) == (spec.clip_low, spec.clip_high)
    if near is not None and same_clips and (spec.clip_low or spec.clip_high):
        low, high = near[0].clips(near[1])
        clips = [(low if spec.clip_low else None, high if spec.clip_high else None)]
    found = []
    for shape, dead, clip in itertools.product(shapes, deads, clips):
        pull = 0.7 * float(np.exp(shape[0])) / scale if not (window.driven or spec.weak) else 0.0
        tail = [] if dead is None else [dead - pull]
        found.append(np.array([*shape, *tail, *(level for level in clip if level is not None)]))
    return found


def _shape_starts(spec: ModelSpec, window: EdgeWindow, near: Point | None) -> Iterable[list[float]]:
    # 10 to 90 % of one pole takes ln 9 = 2.2 time constants; everything here is a logarithm of seconds.
    rough = np.log(max(window.duration_s, 2 * window.interval_s) / 2.2)
    if spec.shape in ("none", "average"):
        return [[]] if spec.shape == "none" else [[rough + shift] for shift in (0.3, 0.7, 1.0, 1.4)]
    if spec.weak:
        behind = (np.log(2 * window.interval_s), rough - 2.0)
        first = {"ramp": (rough + 0.6, rough + 1.0), "slew": (rough, rough + 0.6), "ramp_open": ()}.get(
            spec.shape, (rough - 0.3, rough + 0.5, rough + 1.5)
        )
        stop = (rough + 0.3, rough + 1.0) if spec.shape == "to_ground" else (None,)
        combos = itertools.product(first or (None,), stop, behind)
        return [[float(p) for p in combo if p is not None] for combo in combos]
    if spec.shape == "one_pole":
        if near is not None and near[0].n_shape == 1:
            return [[float(near[1][0])], [rough]]
        return [
            [p] for p in (rough - 3.5, rough - 2.3, rough - 1.4, rough - 0.7, rough - 0.2, rough + 0.4, rough + 1.5)
        ]
    if near is not None and near[0].n_shape == 1:
        rough = float(near[1][0])
    if spec.shape in PAIRS:
        return [[rough + a, rough + b] for a, b in PAIRS[spec.shape]]
    periods = rough + np.array([-2.5, -2.0, -1.6, -1.2, -0.9, -0.6, -0.3, 0.0])
    return [[float(p), z] for p in periods for z in (-2.3, -1.2, -0.5)]


def _dead_starts(window: EdgeWindow, scale: float) -> Iterable[float]:
    """Starts of the dead time over scale; without a drive of the half-way instant."""
    first, last = float(np.mean(window.y[:3])), float(np.mean(window.y[-3:]))
    way = (window.y - first) / ((last - first) or 1.0)
    half = float(window.t_s[int(np.argmax(way >= 0.5))])
    if not window.driven:
        return [half / scale, 0.0]
    assert window.stimulus is not None
    drive_half = float(window.stimulus.t_s[int(np.argmax(window.stimulus.u >= 0.5))])
    late = max(half - drive_half, 0.0) / scale
    return [0.02, 0.3 * late, 0.7 * late, late]
