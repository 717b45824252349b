"""Bench, rehearsal and lag pass straight lines through the same poles: all ways agree, and with another's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from feelcheck.bench.response_models import shape_response
from feelcheck.bench.weak_sink import weak_response
from feelcheck.model import FloatArray
from feelcheck.numerics.one_pole import pole_of_samples, step_response
from feelcheck.numerics.played_response import AddedResponse, PlayedAxis, pole_by_side
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus

T_S = 0.001
ALIKE = 1e-12
POLES = [(0.004,), (0.0003,), (0.05,), (0.006, 0.002), (0.02, 0.0007)]


def lines() -> tuple[FloatArray, FloatArray]:
    """Knots of a drive that rests, runs and turns, on a regular grid."""
    values = np.asarray(np.cumsum(np.random.default_rng(4).normal(size=120)), dtype=np.float64)
    values[:10] = values[0]
    return T_S * np.arange(values.size, dtype=np.float64), values


def played(
    t_s: FloatArray, values: FloatArray, poles_s: tuple[float, ...], falling_s: tuple[float, ...] | None = None
) -> FloatArray:
    falling_s = poles_s if falling_s is None else falling_s
    axis = PlayedAxis(AddedResponse(rising_poles_s=poles_s, falling_poles_s=falling_s), value=float(values[0]))
    found = [float(values[0])]
    for at_s, value in zip(t_s[1:].tolist(), values[1:].tolist(), strict=True):
        axis.take(at_s, value)
        found.append(axis.at(at_s))
    return np.array(found)


def driven(t_s: FloatArray, values: FloatArray, poles_s: tuple[float, ...]) -> FloatArray:
    ready = DrivenInstants(Stimulus(t_s=t_s, u=values), t_s)
    shape = "one_pole" if len(poles_s) == 1 else "two_pole"
    return np.asarray(shape_response(ready, shape, np.log(poles_s)).once[0])


@pytest.mark.reference
@pytest.mark.parametrize("poles_s", POLES)
def test_lines_through_poles_are_those_of_a_matrix_exponential(poles_s: tuple[float, ...]) -> None:
    # SciPy: signal.lsim holds straight lines between samples and steps the state by a matrix exponential.
    t_s, values = lines()
    chain = np.poly1d([1.0])
    for tau_s in poles_s:
        chain *= np.poly1d([tau_s, 1.0])
    _, wanted, _ = signal.lsim(([1.0], chain.coeffs), values - values[0], t_s, interp=True)
    wanted = wanted + values[0]
    np.testing.assert_allclose(driven(t_s, values, poles_s), wanted, atol=ALIKE * np.ptp(values))
    np.testing.assert_allclose(played(t_s, values, poles_s), wanted, atol=ALIKE * np.ptp(values))
    if len(poles_s) == 1:
        np.testing.assert_allclose(pole_of_samples(values, poles_s[0], T_S), wanted, atol=ALIKE * np.ptp(values))


@pytest.mark.parametrize(("rising_s", "falling_s"), [(0.004, 0.009), (0.02, 0.0007), (0.005, 0.005), (0.0, 0.006)])
def test_a_pole_that_rises_and_falls_unlike_is_the_one_that_is_played(rising_s: float, falling_s: float) -> None:
    t_s, values = lines()
    of_one = [(tau_s,) if tau_s else () for tau_s in (rising_s, falling_s)]
    found = pole_by_side(values, rising_s, falling_s, T_S)
    np.testing.assert_allclose(found, played(t_s, values, *of_one), atol=ALIKE * np.ptp(values))


@pytest.mark.parametrize("poles_s", POLES)
@pytest.mark.parametrize("length_s", [0.0005, 0.003, 0.02])
def test_an_average_is_a_ramp_of_its_length(poles_s: tuple[float, ...], length_s: float) -> None:
    at_s = np.linspace(-0.005, 0.1, 211)
    ramp = Stimulus(t_s=np.array([0.0, length_s]), u=np.array([0.0, 1.0]))
    shape = "one_pole" if len(poles_s) == 1 else "two_pole"
    found = shape_response(DrivenInstants(ramp, at_s), shape, np.log(poles_s)).once[0]
    np.testing.assert_allclose(step_response(at_s, poles_s, length_s), found, atol=1e-11)


@pytest.mark.parametrize("length_s", [0.0005, 0.003, 0.02])
def test_a_weak_sink_is_a_ramp_behind_its_pole(length_s: float) -> None:
    at_s = np.linspace(-0.005, 0.1, 211)
    found = weak_response("ramp", np.log([length_s, 0.004]), at_s, 0.1)
    np.testing.assert_allclose(found, step_response(at_s, [0.004], length_s), atol=ALIKE)
