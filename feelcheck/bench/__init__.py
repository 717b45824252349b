"""Scope captures: edges, drive-aware response, stair steps, noise."""

from __future__ import annotations

from feelcheck.bench.measure import measure_response

__all__ = ["measure_response"]
