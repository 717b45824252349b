"""What decides between candidates of both directions, and between a sag and rounding: stand-ins for fits."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.bench import choice, looks


def test_an_average_one_way_alone_is_none_either_way(monkeypatch: pytest.MonkeyPatch) -> None:
    def fitted(way: list[Any], averages: bool = False) -> SimpleNamespace:
        return SimpleNamespace(shape="average" if averages and way[0].rising else "ramp", fits=())

    monkeypatch.setattr(looks, "fit_direction", fitted)
    both: Any = [SimpleNamespace(rising=True), SimpleNamespace(rising=False)]
    assert [found.shape for found in looks._both_ways(both) if found] == ["ramp", "ramp"]


@pytest.mark.parametrize(("steps", "is_sag"), [(0.8, False), (1.4, False), (1.6, True), (2.8, True)])
def test_a_sag_is_more_than_a_step_and_a_half(steps: float, is_sag: bool) -> None:
    step = 0.01
    fit: Any = SimpleNamespace(
        spec=SimpleNamespace(shape="one_pole", coupled=True, hum_hz=0.0, drift=False),
        besides=np.array([0.0, steps * step]),
        window=SimpleNamespace(swing=1.0, step=step),
        coupling_s=1.0,
        poles_s=(1e-3,),
    )
    assert choice._small_beside(fit) == is_sag
