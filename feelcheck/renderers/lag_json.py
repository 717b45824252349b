"""The lag as JSON, a part of the document of `feelcheck analyze`."""

from __future__ import annotations

from typing import Any

from feelcheck.model import CoupledAxis, CoupledLag, Estimate, LagResult, MarkerLag
from feelcheck.renderers._json import estimate_object

__all__ = ["lag_object", "swapped_object"]


def lag_object(lag: LagResult) -> dict[str, Any]:
    """Return the JSON object of both ways to tell a lag."""
    return {"marker": _marker(lag.marker), "coupled": _coupled(lag.coupled)}


def _marker(marker: MarkerLag) -> dict[str, Any]:
    axes: dict[str, dict[str, Any]] = {}
    for (axis, direction), estimate in marker.directions.items():
        axes.setdefault(axis, {})[direction] = estimate_object(estimate)
    return {
        "button": marker.button or None,
        "stick": marker.stick or None,
        "delay": estimate_object(marker.delay),
        "onset_delay": estimate_object(marker.onset_delay),
        "axes": axes,
    }


def _coupled(coupled: CoupledLag) -> dict[str, Any]:
    return {
        "first": coupled.first or None,
        "second": coupled.second or None,
        "delay": estimate_object(coupled.delay),
        "axes": {letter: _axis(axis) for letter, axis in coupled.axes.items()},
    }


def _axis(axis: CoupledAxis) -> dict[str, Any]:
    names = ("delay", "rising", "falling", "smoothing", "gain", "play")
    estimates = {name: estimate_object(getattr(axis, name)) for name in names}
    return {"first": axis.first, "second": axis.second, **estimates}


def swapped_object(sensors: Estimate, ports: Estimate) -> dict[str, Any]:
    """Return the JSON object of two recordings with ports swapped: the sensors' delay, and the ports'."""
    return {"coupled_swapped": {"delay": estimate_object(sensors), "port_delay": estimate_object(ports)}}
