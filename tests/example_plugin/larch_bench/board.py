"""A board pattern: the bench's own adapter board."""

from __future__ import annotations

from feelcheck.model import BoardPattern

__all__ = ["ADAPTER"]

ADAPTER = BoardPattern(
    name="larch_adapter",
    about="the bench's adapter board: a light filter",
    parts={"resistor": "1k", "capacitor": "100n", "dielectric": "C0G"},
)
