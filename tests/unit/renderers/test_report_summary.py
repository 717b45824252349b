"""Summary sentences follow their estimates: status, sign and interval."""

from __future__ import annotations

from dataclasses import replace

import pytest

from feelcheck.model import ChainLink, Estimate, MetricComparison, Report
from feelcheck.renderers.report.summary import (
    asymmetry_sentence,
    chain_sentence,
    comparison_sentence,
    delay_sentence,
    summary_sentences,
    use_sentence,
)


def _ms(value: float, u: float = 0.1) -> Estimate:
    return Estimate.measured("smoothing_delay", value / 1e3, u=u / 1e3, unit="s")


def _ratio(value: float, u: float) -> Estimate:
    return Estimate.measured("asymmetry", value, u=u, unit="ratio", scale="log")


def _deg(value: float, u: float) -> Estimate:
    return Estimate.measured("drift_per_pair", value, u=u, unit="deg")


ROW = MetricComparison(
    name="smoothing_delay", direction="falling", axis="left_x", state="as_found", candidate_name="birch",
    baseline=_ms(3), candidate=_ms(14), difference=_ms(11), margin=0.001, verdict="different", detected=True,
    low90=0.0, high90=0.0, p_difference=0.0, p_equivalence=1.0, scope="recording", why="",
)  # fmt: skip
LINK = ChainLink(
    specimen="birch", axis="left_x", state="as_found", direction="rising", link="bench-hand", predicted=_ms(9),
    measured=_ms(9.2), difference=_ms(0.2), margin=0.001, verdict="agree", look_at=("firmware filter",),
)  # fmt: skip


@pytest.mark.parametrize(
    ("estimate", "words"),
    [
        (_ms(9.0), "the output trails by 9.00 ms (8.80 to 9.20)"),
        (_ms(9.0, 1.0), "the output trails by 9.0 ms (7.0 to 11.0)"),
        (Estimate.at_most("d", 0.001, unit="s"), "any smoothing is shorter than 1.00 ms"),
        (Estimate.at_least("d", 0.05, unit="s"), "smoothing is longer than 50.0 ms; how much longer was not seen"),
        (Estimate.not_resolved("d", unit="s"), "the data does not tell how much it smooths"),
        (Estimate.not_present("d", unit="s"), "no smoothing was seen"),
    ],
)
def test_a_delay_is_said_by_its_status_and_interval(estimate: Estimate, words: str) -> None:
    assert delay_sentence("birch", estimate) == f"birch: {words}."


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (_ratio(1.6, 0.1), "falls more slowly than it rises"),
        (_ratio(0.6, 0.05), "rises more slowly than it falls"),
        (_ratio(1.6, 0.9), "no difference between rising and falling was told"),
    ],
)
def test_asymmetry_follows_side_and_interval(ratio: Estimate, words: str) -> None:
    assert words in asymmetry_sentence("birch", ratio)


def test_an_unknown_asymmetry_or_drift_is_not_said() -> None:
    assert asymmetry_sentence("birch", Estimate.not_resolved("asymmetry", unit="ratio")) == ""
    assert use_sentence("birch", Estimate.not_resolved("drift_per_pair", unit="deg")) == ""


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (ROW, "different, higher by 11.00 ms"),
        (replace(ROW, difference=_ms(-11)), "different, lower by 11.00 ms (10.80 to 11.20)"),
        (replace(ROW, verdict="undecided", difference=_ms(1, 1)), "undecided against a margin of 1 ms"),
        (replace(ROW, verdict="equivalent", detected=False), "any difference lies inside the margin of 1 ms"),
        (replace(ROW, verdict="equivalent"), "a difference was detected but it lies inside the margin"),
        (replace(ROW, difference=Estimate.at_most("d", -0.002, unit="s")), "different, lower by at least 2.00 ms"),
        (replace(ROW, difference=Estimate.at_least("d", 0.004, unit="s")), "different, higher by at least 4.00 ms"),
    ],
)
def test_a_comparison_is_said_by_verdict_sign_and_interval(row: MetricComparison, words: str) -> None:
    assert words in comparison_sentence(row, "alder")
    assert "same" not in comparison_sentence(row, "alder")


def test_a_chain_link_is_said_by_its_verdict() -> None:
    assert "bench to hand agree within the margin (predicted 9.00 ms" in chain_sentence(LINK)
    assert chain_sentence(replace(LINK, verdict="disagree")).endswith("Look at: firmware filter.")
    unknown = replace(LINK, verdict="cannot_tell", measured=Estimate.not_resolved("d", unit="s"))
    assert "cannot be told" in chain_sentence(unknown)
    assert "measured not resolved" in chain_sentence(unknown)


@pytest.mark.parametrize(
    ("drift", "words"),
    [
        (_deg(1.2, 0.1), "towards the side where the code rises, by 1.20 deg"),
        (_deg(-1.2, 0.1), "towards the side where the code falls, by 1.20 deg"),
        (_deg(1.2, 0.9), "was not told"),
    ],
)
def test_drift_follows_sign_and_interval(drift: Estimate, words: str) -> None:
    assert words in use_sentence("birch", drift)


def test_a_page_without_results_says_so() -> None:
    assert summary_sentences(Report(title="Empty")) == ["Nothing has been measured yet."]
