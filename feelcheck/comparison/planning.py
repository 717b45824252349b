"""How strict a look at unplanned data must be, and how many more recordings would probably decide.

Recording until something is decided finds differences that are not there. A user who follows the tool's advice looks
several times, so every unplanned look is made at a stricter level that keeps the whole within 5 %.
"""

from __future__ import annotations

import math

from scipy import special

from feelcheck.comparison.numbers import MAX_PER_SIDE, POWER

__all__ = ["more_per_side"]


def more_per_side(u: float, n_side: int, margin: float, alpha: float, difference: float = 0.0) -> int | None:
    """Return how many more replicates a side would decide with 90 % power; None beyond what is reasonable.

    Parameters
    ----------
    u : float
        Standard uncertainty of the present difference.
    n_side : int
        Replicates a side now (the smaller of both).
    margin : float
        The margin of equivalence, same unit.
    alpha : float
        Level of each look.
    difference : float
        A difference seen now; the distance to the nearer decision (zero or the margin) is what has to be resolved, but
        never less than half the margin, or the advice would chase a knife's edge.

    Notes
    -----
    Normal approximation: n = n_now (u (z_alpha + z_power) / distance)^2, doubled where that asks for fewer than two.
    """
    distance = max(margin - abs(difference) if abs(difference) < margin else abs(difference), margin / 2)
    z = float(-special.ndtri(alpha) - special.ndtri((1 - POWER) / 2))
    wanted = math.ceil(n_side * (u * z / distance) ** 2)
    more = max(wanted - n_side, 2)
    return more if n_side + more <= MAX_PER_SIDE else None
