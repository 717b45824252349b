"""Board patterns of the tool's own."""

from __future__ import annotations

from feelcheck.model import BoardPattern

__all__ = ["LOANER_PAD"]

LOANER_PAD = BoardPattern(
    name="loaner_pad",
    about="the demo's loaner pads as they come in: a plain filter (invented)",
    parts={"resistor": "4.7k", "capacitor": "1u", "dielectric": "X7R"},
)
