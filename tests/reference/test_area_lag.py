"""Mean delay on the bench against closed forms of the area above the step.

Source: the area above a unity-gain step response is the first moment of the impulse response (W. C. Elmore, J. Appl.
Phys. 19:55, 1948; from memory), which gives 2 zeta/wn for a second-order system and dead time plus time constant for a
delayed pole. The output that the tool reads is made by scipy.signal, not by any code of the tool.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import signal

from feelcheck.bench import measure_response
from feelcheck.model import Capture, Channel, FloatArray, Provenance
from feelcheck.numerics.one_pole import transition_10_90

pytestmark = pytest.mark.reference
STEP_S = 5e-5
T_S = np.arange(0.0, 0.6, STEP_S)
FIELD = np.interp(T_S, [0.0999, 0.1001, 0.3499, 0.3501], [-1.0, 1.0, 1.0, -1.0])


def _pole(tau_s: float) -> FloatArray:
    return _system([1.0], np.array([tau_s, 1.0]))


def _second_order(f_hz: float, zeta: float) -> FloatArray:
    w = 2 * math.pi * f_hz
    return _system([w**2], np.array([1.0, 2 * zeta * w, w**2]))


def _system(numerator: list[float], denominator: FloatArray) -> FloatArray:
    _, found, _ = signal.lsim((numerator, denominator), FIELD + 1.0, T_S)
    return np.asarray(found) - 1.0


def _late(output: FloatArray, delay_s: float) -> FloatArray:
    return np.interp(T_S - delay_s, T_S, output)


@pytest.mark.parametrize(
    ("output", "area_ms"),
    [
        (lambda: _pole(0.008), 8.0),
        (lambda: _second_order(30.0, 0.7), 7.4272),
        (lambda: _second_order(40.0, 0.3), 2.3873),
        (lambda: _late(_pole(0.008), 0.004), 12.0),
    ],
    ids=["pole", "damped", "ringing", "late pole"],
)
def test_mean_delay_is_the_area_above_the_step(output: Callable[[], FloatArray], area_ms: float) -> None:
    noisy = 0.9 + 0.5 * output() + 2e-4 * np.random.default_rng(7).standard_normal(T_S.size)
    channels = (Channel(name="field", values=FIELD, unit="mT"), Channel(name="sensor", values=noisy, unit="V"))
    found = measure_response(
        Capture(t_s=T_S, interval_s=STEP_S, channels=channels, provenance=Provenance(format="test"))
    )
    for side in (found.rising, found.falling):
        assert side is not None
        # to a twenty-fifth of the sample interval: the noise is 0.02 % of the swing
        assert side.mean_delay.value == pytest.approx(area_ms / 1e3, abs=STEP_S / 25)


def test_ten_to_ninety_of_a_pole_of_8_ms() -> None:
    assert 1e3 * transition_10_90([0.008]) == pytest.approx(17.578, abs=5e-4)
