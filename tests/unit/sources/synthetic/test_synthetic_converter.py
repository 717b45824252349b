"""The converter."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.sources.synthetic.converter import Converter, convert, look_at
from feelcheck.sources.synthetic.gimbal import STEP_S

RNG = np.random.default_rng
THROWS = np.linspace(-1.0, 1.0, 100_001)


@pytest.mark.parametrize("bits", [8, 10, 12, 16])
def test_full_throw_takes_its_span_of_the_range(bits: int) -> None:
    converter = Converter(bits=bits, span_fraction=0.6, offset_fraction=0.0, noise_lsb=0.0)
    codes = convert(converter, THROWS, RNG(1))
    assert np.ptp(codes) == pytest.approx(0.6 * (2**bits - 1), abs=1.0)
    assert codes.mean() == pytest.approx(0.5 * (2**bits - 1), abs=0.5)


def test_the_quantization_error_is_even_with_rms_lsb_over_root_12() -> None:
    # Common practice: a busy quantizer's error is even over one LSB, rms 1/sqrt(12).
    converter = Converter(bits=10, offset_fraction=0.0, noise_lsb=0.0)
    ideal = converter.top * 0.5 + converter.codes_per_throw * THROWS
    error = convert(converter, THROWS, RNG(1)) - ideal
    assert np.abs(error).max() <= 0.5 + 1e-9
    assert error.std() == pytest.approx(1.0 / np.sqrt(12.0), rel=0.01)


def test_an_offset_moves_the_centre() -> None:
    codes = convert(Converter(bits=8, offset_fraction=0.1, noise_lsb=0.0), np.zeros(1), RNG(1))
    assert codes.tolist() == [153.0]


def test_codes_stay_inside_the_range() -> None:
    codes = convert(Converter(bits=8, noise_lsb=3.0), np.array([-9.0, 9.0] * 50), RNG(1))
    assert set(codes.tolist()) == {0.0, 255.0}


def test_noise_is_told_in_lsb() -> None:
    codes = convert(Converter(bits=12, noise_lsb=2.0), np.zeros(20_000), RNG(1))
    assert codes.var() == pytest.approx(4.0 + 1.0 / 12.0, rel=0.05)  # Sheppard's correction for the rounding


def test_looking_between_grid_points_goes_straight() -> None:
    signal = np.array([0.0, 1.0, 3.0])
    assert look_at(signal, STEP_S * np.array([-5.0, 0.5, 1.25, 9.0]), stepped=False) == pytest.approx([0, 0.5, 1.5, 3])


def test_a_held_signal_is_never_interpolated() -> None:
    signal = np.array([0.0, 1.0, 3.0])
    assert look_at(signal, STEP_S * np.array([-5.0, 0.5, 1.9, 9.0]), stepped=True).tolist() == [0.0, 0.0, 1.0, 3.0]
