"""Scope captures: edges, drive-aware response, stair steps, noise."""

from __future__ import annotations

from feelcheck.bench.boards import recognise_board
from feelcheck.bench.known_drive import behind_known_drive
from feelcheck.bench.measure import measure_response
from feelcheck.bench.repeats import measure_repeats, pool_repeats
from feelcheck.bench.settings import setting_caveats
from feelcheck.bench.typed import measure_typed

__all__ = [
    "behind_known_drive",
    "measure_repeats",
    "measure_response",
    "measure_typed",
    "pool_repeats",
    "recognise_board",
    "setting_caveats",
]
