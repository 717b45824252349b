"""Numbers in words: digits from the uncertainty, seconds as milliseconds, statuses said plainly."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feelcheck.model import Caveat, Estimate, PopulationQuantity
from feelcheck.renderers._format import decimals_for, format_estimate, format_number
from feelcheck.renderers._json import encoded
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table
from feelcheck.renderers.survey_words import quantity_words


@pytest.mark.parametrize(
    ("estimate", "words"),
    [
        (Estimate.measured("t", 0.0101, u=0.00015, unit="s"), "10.10 ms (9.81 to 10.39)"),
        (Estimate.measured("t", 123.456, u=3.0, unit="counts"), "123.5 counts (117.6 to 129.3)"),
        (Estimate.measured("n", 0.02, u=0.0, unit="V"), "0.02000 V"),
        (Estimate.at_least("t", 0.05, unit="s"), "at least 50.0 ms"),
        (Estimate.at_most("t", 0.00052, unit="s"), "at most 0.520 ms"),
        (Estimate.not_present("d", unit="fraction"), "none seen"),
    ],
)
def test_an_estimate_in_words(estimate: Estimate, words: str) -> None:
    assert format_estimate(estimate) == words


def test_minus_zero_is_never_printed() -> None:
    assert format_number(-0.0001, 2) == "0.00"


@given(value=st.floats(1e-3, 1e3), relative=st.floats(1e-4, 1.0))
def test_printed_digits_never_hide_more_than_a_twentieth_of_the_uncertainty(value: float, relative: float) -> None:
    u = value * relative
    printed = float(format_number(value, decimals_for(u, value)))
    assert abs(printed - value) <= 0.05 * u * (1 + 1e-9)


def test_json_turns_unknown_numbers_into_null() -> None:
    record = encoded(Estimate.at_most("t", 0.001, unit="s"))
    assert (record["value"], record["low"], record["high"], record["unit"]) == (None, None, 1.0, "ms")


def test_json_refuses_to_show_infinite_ends() -> None:
    record = encoded(Estimate.measured("t", 1.0, u=1.0, unit="s", dof=1e-3))
    assert record["low"] is None or math.isfinite(record["low"])


def test_each_remark_is_numbered_once() -> None:
    remarks = Remarks()
    few = Caveat(code="few", text="Two flicks only.", advice="Record ten.")
    slow = Caveat(code="slow", text="Slow flicks.")
    assert [remarks.marks([few]), remarks.marks([slow, few]), remarks.marks([])] == ["[1]", "[1,2]", ""]
    assert remarks.text().count("Two flicks only.") == 1


def test_an_empty_column_is_left_out_of_a_table() -> None:
    assert text_table(("a", "b", "c"), [("1", "", "3"), ("10", "", "30")]) == "  a   c\n  1   3\n  10  30"


@pytest.mark.parametrize(
    ("quantity", "group", "words"),
    [
        ("transition_10_90", "bench", "10 to 90 % as read, rising (bench, c3 lifted)"),
        ("transition_10_90", "hand", "10 to 90 %, rising (hand, c3 lifted)"),
        ("update_interval", "hand", "held for, rising (hand, c3 lifted)"),
        ("wobble", "hand", "wobble, rising (hand, c3 lifted)"),
    ],
)
def test_a_population_is_called_as_the_results_that_it_is_of(quantity: str, group: str, words: str) -> None:
    of = PopulationQuantity(
        quantity=quantity, unit="ms", direction="rising", group=group, state="c3_lifted",
        sticks=(), median=None, sd=None, measured_u=None,
    )  # fmt: skip
    assert quantity_words(of) == words
