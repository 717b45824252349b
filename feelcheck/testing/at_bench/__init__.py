"""Scope captures from circuit equations: what drives, the stages it passes through, and an instrument that looks on.

Nothing here is shared with `feelcheck.sources.synthetic` or with the analysis: stages are state-space matrices and
difference equations, drives are what supplies and switches do, and instruments have the faults of instruments.
"""

from feelcheck.testing.at_bench.effects import EFFECTS, draw_bench
from feelcheck.testing.at_bench.look import BenchCapture, take_capture
from feelcheck.testing.at_bench.setup import BenchSetup

__all__ = ["EFFECTS", "BenchCapture", "BenchSetup", "draw_bench", "take_capture"]
