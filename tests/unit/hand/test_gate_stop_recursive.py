"""Recursive integer filters: recognised by their decay, and both of their numbers are covered."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.hand.gate_stop.recursive import recursive_caveat, recursive_delay_s, recursive_order


@pytest.mark.parametrize("k", [1, 2, 3, 4, 5])
def test_the_decay_of_a_stepped_filter_is_recognised(k: int) -> None:
    value, left = 0.0, []
    for _ in range(4):
        value += (1.0 - value) / 2**k
        left.append(1.0 - value)
    tau = -1.0 / float(np.log(left[3] / left[2]))
    assert recursive_order([tau] * 4, [0.01] * 4) == k


@pytest.mark.parametrize("k", [2, 3, 4])
def test_both_numbers_of_a_match_lie_within_two_standard_uncertainties(k: int) -> None:
    tau = -1.0 / np.log(1.0 - 2.0**-k)
    delay = float(np.sum(1.0 - (1.0 - (1.0 - 2.0**-k) ** np.arange(1, 2000))))
    less, u = recursive_delay_s(k, 1.0)
    value = tau - less
    assert delay == pytest.approx(2**k - 1, rel=1e-6)
    assert value - 2.001 * u <= delay < tau <= value + 2.001 * u


def test_unlike_directions_vague_ones_and_other_poles_are_no_match() -> None:
    assert recursive_order([7.49, 7.49, 14.0, 14.0], [0.01] * 4) is None
    assert recursive_order([7.49, 7.49], [0.01, 0.2]) is None
    assert recursive_order([9.0] * 4, [0.01] * 4) is None
    assert recursive_order([7.49], [0.01]) is None


def test_the_remark_names_the_filter_and_both_delays() -> None:
    text = recursive_caveat(3).text
    assert "1/8" in text
    assert "7 reports" in text
    assert "7.49" in text


def test_the_remark_says_where_the_filter_stands_behind_a_pole() -> None:
    assert recursive_caveat(2).text.startswith("All directions match")
    assert recursive_caveat(2, behind_pole=True).text.startswith("One of two poles in all directions matches")
