"""Two recordings of tied sticks, the second with their sensors on each other's ports."""

from __future__ import annotations

import math

from feelcheck.model import CoupledLag, Estimate

__all__ = ["swapped_average"]


def swapped_average(plain: CoupledLag, swapped: CoupledLag) -> tuple[Estimate, Estimate] | None:
    """Return the delay of the sensors and that of the ports from two recordings, the second with ports swapped.

    Parameters
    ----------
    plain, swapped : CoupledLag
        In the second recording the sensors hang on each other's ports.

    Returns
    -------
    (Estimate, Estimate) or None
        Half the difference: how much later the sensor is that the first recording calls second; half the sum: how
        much later the second port is read. None where one has no delay.
    """
    one, two = plain.delay, swapped.delay
    if one.value is None or two.value is None or one.u is None or two.u is None:
        return None
    u = 0.5 * math.hypot(one.u, two.u)
    n, dof = one.n + two.n, one.dof + two.dof
    sensors = Estimate.measured("delay", 0.5 * (one.value - two.value), u=u, unit="s", n=n, dof=dof)
    ports = Estimate.measured("port_delay", 0.5 * (one.value + two.value), u=u, unit="s", n=n, dof=dof)
    return sensors, ports
