"""In-hand logs from equations of motion: a thumb pushes a stick into its gate, electronics and a host look on.

Nothing here is shared with `feelcheck.sources.synthetic` or with the analysis: a stick is a mass on a spring, a gate
is a wall that pushes back, and a firmware computes in integers.
"""

from feelcheck.testing.in_hand.effects import EFFECTS, draw_world
from feelcheck.testing.in_hand.log import HandLog, simulate_log
from feelcheck.testing.in_hand.world import HandWorld

__all__ = ["EFFECTS", "HandLog", "HandWorld", "draw_world", "simulate_log"]
