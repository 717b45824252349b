"""Two unequal poles against the table of their step response (30-digit arithmetic on the closed form)."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import edge, poles_s

pytestmark = pytest.mark.reference

DATA = Path(__file__).parent / "data"


def test_two_unequal_poles_against_the_table() -> None:
    """Computed in 30 digits from the closed form (table of the two-pole step response, poles 1 and r)."""
    table = np.genfromtxt(DATA / "step_response_two_poles.csv", delimiter=",", names=True, skip_header=1)
    for row in table[table["r"] < 0.9]:
        # Output resistance, pin capacitor, series resistor, capacitor: solve C1 for poles 1 and r with R2 C2 given.
        a, b = 1.0 + row["r"], row["r"]
        r1 = r2 = 1000.0
        # sum of poles: r1 c1 + (r1 + r2) c2; product: r1 c1 r2 c2. Real parts exist where the poles are far apart.
        discriminant = a * a - 4 * (r1 + r2) / r2 * b
        if discriminant <= 0:
            continue
        x = (a + math.sqrt(discriminant)) / 2  # r1 c1
        network = BoardNetwork(
            stage=OutputStage(source_ohm=r1), pin_f=x / r1, series_ohm=r2, behind_f=b / x / r2, low_v=0.0, high_v=1.0
        )
        assert poles_s(network, rising=True) == pytest.approx((1.0, row["r"]), rel=1e-9)
        found = edge(network, rising=True)
        for share, name in ((0.1, "t10"), (0.5, "t50"), (0.9, "t90")):
            assert found.crossing_s(share) == pytest.approx(row[name], abs=1e-8)
        assert found.area_s() == pytest.approx(a, rel=1e-9)
