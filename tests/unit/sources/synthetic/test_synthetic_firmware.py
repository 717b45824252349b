"""The firmware."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.converter import Converter
from feelcheck.sources.synthetic.firmware import Adaptive, Firmware, axis_scale, encode, filter_axis, shape_stick

FINE = Converter(bits=16, span_fraction=1.0, noise_lsb=0.0)
PLAIN = Firmware()


def filtered(firmware: Firmware, throws: FloatArray, interval_s: float = 0.001) -> FloatArray:
    codes = FINE.centre + FINE.codes_per_throw * throws
    return filter_axis(firmware, FINE, codes, interval_s)


def mean_delay(response: FloatArray) -> float:
    """Area between a unit step at index 0 and the response, in samples."""
    return float(np.sum(1.0 - response))


def step(n: int = 2000) -> FloatArray:
    return np.concatenate([np.zeros(50), np.ones(n)])


def test_codes_become_throws() -> None:
    assert filtered(PLAIN, np.array([-1.0, 0.0, 0.5])) == pytest.approx([-1.0, 0.0, 0.5])


@pytest.mark.parametrize("n", [2, 5, 8])
def test_an_average_of_n_delays_by_half_of_n_minus_1(n: int) -> None:
    response = filtered(Firmware(average_n=n), step())[50:]
    assert mean_delay(response) == pytest.approx(0.5 * (n - 1), abs=1e-9)
    assert response[n - 1] == pytest.approx(1.0)
    assert response[n - 2] < 1.0 - 0.5 / n


def test_a_recursive_filter_keeps_exp_of_minus_interval_over_tau() -> None:
    response = filtered(Firmware(recursive_s=0.01), step(), 0.002)[50:]
    assert 1.0 - response[:5] == pytest.approx(np.exp(-0.2 * np.arange(1, 6)))


def test_filters_start_settled() -> None:
    busy = Firmware(average_n=4, recursive_s=0.01, adaptive=Adaptive())
    assert filtered(busy, np.full(30, 0.6)) == pytest.approx(0.6)


def test_the_adaptive_filter_is_slow_on_small_steps_and_quick_on_large_ones() -> None:
    firmware = Firmware(adaptive=Adaptive(slow_s=0.02, fast_s=0.002, speed=20.0))
    small = filtered(firmware, 0.001 * step())[50:] / 0.001
    large = filtered(firmware, step())[50:]
    assert mean_delay(small) == pytest.approx(20.0, rel=0.1)
    assert mean_delay(large) < 6.0


def test_an_axial_dead_zone_acts_on_each_axis() -> None:
    x, y = shape_stick(Firmware(dead_zone_fraction=0.1), np.array([0.05, 0.1, 1.0]), np.array([0.55, -0.55, 0.0]))
    assert x == pytest.approx([0.0, 0.0, 1.0])
    assert y == pytest.approx([0.5, -0.5, 0.0])


def test_a_radial_dead_zone_keeps_the_direction() -> None:
    firmware = Firmware(dead_zone_fraction=0.1, dead_zone_shape="radial")
    x, y = shape_stick(firmware, np.array([0.03, 0.6]), np.array([0.04, 0.8]))
    assert x == pytest.approx([0.0, 0.6])
    assert y == pytest.approx([0.0, 0.8])


def test_edge_scaling_clips_full_throw() -> None:
    x, _ = shape_stick(Firmware(edge_gain=1.25), np.array([0.7, 0.9, -1.0]), np.zeros(3))
    assert x == pytest.approx([0.875, 1.0, -1.0])


def test_the_radial_clamp_limits_to_a_circle() -> None:
    x, y = shape_stick(Firmware(edge_gain=1.2, radial_clamp=True), np.array([0.6, 0.3]), np.array([0.8, 0.4]))
    assert np.hypot(x, y) == pytest.approx([1.0, 0.6])
    assert y / x == pytest.approx([4 / 3, 4 / 3])


def test_scaled_codes_are_signed_16_bit_and_inverted_on_request() -> None:
    throws = np.array([-1.0, 0.0, 0.5, 1.0])
    assert encode(PLAIN, FINE, "left_x", throws).tolist() == [-32767, 0, 16384, 32767]
    turned = Firmware(inverted_axes=("left_x",))
    assert encode(turned, FINE, "left_x", throws).tolist() == [32767, 0, -16383, -32767]
    assert encode(turned, FINE, "left_y", throws).tolist() == [-32767, 0, 16384, 32767]


@pytest.mark.parametrize("widened_step", [256, 257, 258])
def test_eight_bits_widened_step_by_that_many_counts(widened_step: int) -> None:
    firmware = Firmware(output="widened", widened_step=widened_step)
    codes = np.unique(encode(firmware, FINE, "left_x", np.linspace(-1.0, 1.0, 9999)))
    assert set(np.diff(codes).tolist()) == {widened_step}
    assert codes.min() >= -32768
    assert codes.max() <= 32767


def test_native_codes_are_the_converters_own() -> None:
    converter = Converter(bits=10, span_fraction=0.8, noise_lsb=0.0)
    firmware = Firmware(output="native")
    codes = encode(firmware, converter, "left_x", np.linspace(-1.0, 1.0, 9999))
    scale = axis_scale(firmware, converter)
    assert set(np.diff(np.unique(codes)).tolist()) == {1}
    assert (codes[-1] - scale.centre) / scale.reach == pytest.approx(1.0, abs=1.0 / scale.reach)


def test_a_12_bit_converter_on_part_of_its_range_gives_two_spacings() -> None:
    converter = Converter(bits=12, span_fraction=0.7, noise_lsb=0.0)
    codes = np.arange(800.0, 3200.0)
    sent = encode(PLAIN, converter, "left_x", filter_axis(PLAIN, converter, codes, 0.001))
    spacings = np.diff(sent)
    assert set(spacings.tolist()) == {22, 23}
    assert spacings.mean() == pytest.approx(32767.0 / converter.codes_per_throw, rel=1e-4)
