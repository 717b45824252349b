"""Stick streams: timing, segmentation, gate stop, release, rest, quantization, refresh."""

from __future__ import annotations

from feelcheck.hand.view import analyse, prepare

__all__ = ["analyse", "prepare"]
