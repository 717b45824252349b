"""Summary sentences follow their estimates: status, sign and interval."""

from __future__ import annotations

from dataclasses import replace

import pytest

from feelcheck.model import (
    Caveat,
    ChainLink,
    Comparison,
    Estimate,
    FeelAxis,
    FeelResult,
    MetricComparison,
    Play,
    Report,
)
from feelcheck.renderers.report.glance import glance_rows
from feelcheck.renderers.report.sentences import (
    asymmetry_sentence,
    besides_sentence,
    chain_sentence,
    chain_sentences,
    delay_sentence,
    difference_sentence,
    drift_sentence,
)
from feelcheck.renderers.report.summary import most_telling, slowest_sentence, summary_sentences


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
    assert drift_sentence("birch", Estimate.not_resolved("drift_per_pair", unit="deg")) == ""


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (ROW, "different, higher by 11.00 ms"),
        (replace(ROW, difference=_ms(-11)), "different, lower by 11.00 ms (10.80 to 11.20)"),
        (replace(ROW, verdict="undecided", difference=_ms(1, 1)), "undecided on left_x falling (difference 1.0 ms"),
        (replace(ROW, verdict="equivalent", detected=False), "any difference lies inside the margin on left_x falling"),
        (replace(ROW, verdict="equivalent"), "a difference was detected but lies inside the margin"),
        (replace(ROW, difference=Estimate.at_most("d", -0.002, unit="s")), "different, lower by at least 2.00 ms"),
        (replace(ROW, difference=Estimate.at_least("d", 0.004, unit="s")), "different, higher by at least 4.00 ms"),
    ],
)
def test_a_comparison_is_said_by_verdict_sign_and_interval(row: MetricComparison, words: str) -> None:
    said = difference_sentence([row], "alder")
    assert said.startswith("Against alder, smoothing delay (margin 1 ms): ")
    assert words in said
    assert "same" not in said


def test_several_differences_are_said_by_their_least_and_greatest_and_each_verdict_apart() -> None:
    rows = [
        replace(ROW, direction="rising", difference=_ms(6)),
        replace(ROW, axis="left_y", difference=_ms(8)),
        ROW,
        replace(ROW, axis="left_y", direction="rising", verdict="undecided", difference=_ms(1, 1)),
    ]
    said = difference_sentence(rows, "alder")
    assert "higher by 6.00 ms (5.80 to 6.20) on left_x rising up to 11.00 ms (10.80 to 11.20) on left_x falling" in said
    assert "(3 in all); undecided on left_y rising" in said
    turned = difference_sentence([replace(rows[0], difference=_ms(-6)), *rows[1:]], "alder")
    assert "different, lower by 6.00 ms (5.80 to 6.20) on left_x rising" in turned


def test_what_else_differs_is_named_with_its_size_and_the_rest_counted() -> None:
    noise = Estimate.measured("rest_noise", 4.0, u=0.2, unit="counts")
    rows = [
        replace(ROW, name="rest_noise", direction="", difference=noise),
        replace(ROW, name="return_error", verdict="equivalent"),
        replace(ROW, name="update_interval", verdict="undecided"),
    ]
    said = besides_sentence(rows)
    assert said.startswith("Also different: rest noise, higher by 4.00 counts (3.61 to 4.39) (left_x).")
    assert said.endswith("Other figures: 1 inside the margin, 1 undecided.")
    assert besides_sentence([replace(rows[0], verdict="undecided")]) == "Other figures: 1 undecided."


def test_a_chain_link_is_said_by_its_verdict() -> None:
    assert "bench to hand agree within the margin (predicted 9.00 ms" in chain_sentence(LINK)
    assert chain_sentence(replace(LINK, verdict="disagree")).endswith("Look at: firmware filter.")
    unknown = replace(LINK, verdict="cannot_tell", measured=Estimate.not_resolved("d", unit="s"))
    assert "cannot be told" in chain_sentence(unknown)
    assert "measured not resolved" in chain_sentence(unknown)


def test_links_that_agree_are_counted_and_the_others_said_one_by_one() -> None:
    near = replace(LINK, direction="falling", difference=_ms(0.1))
    said = chain_sentences([LINK, near])
    assert said == [
        "2 of 2 predictions agree with what was measured (margin 1 ms); farthest apart: bench to hand, left_x rising "
        "(predicted 9.00 ms (8.80 to 9.20), measured 9.20 ms (9.00 to 9.40))."
    ]
    opening, other = chain_sentences([LINK, near, replace(LINK, axis="left_y", verdict="disagree")])
    assert opening.startswith("2 of 3 predictions agree")
    assert other.startswith("left_y rising: bench to hand disagree")
    assert (
        "farthest apart: bench to hand, left_x falling" in chain_sentences([LINK, replace(near, difference=_ms(-1))])[0]
    )


def test_what_to_look_at_is_said_once_for_all_links_that_it_is_about() -> None:
    rows = [replace(LINK, verdict="disagree", direction=direction) for direction in ("rising", "falling")]
    first, second = chain_sentences(rows)
    assert "Look at" not in first
    assert second.endswith("Look at: firmware filter.")
    caveat = Caveat(code="polarity_unknown", text="Whether the code rises is not noted.", advice="Note it.")
    unknown = Estimate.not_resolved("d", unit="s", caveats=(caveat,))
    (said,) = chain_sentences([replace(LINK, verdict="cannot_tell", predicted=unknown)])
    assert said.endswith("Whether the code rises is not noted. Note it.")


@pytest.mark.parametrize(
    ("delays", "words"),
    [
        ([("x", _ms(3)), ("y", _ms(14))], "In the hand, slowest on y: the output trails by 14.00 ms"),
        ([("x", _ms(3)), ("y", Estimate.at_most("d", 0.004, unit="s"))], "slowest on x: the output trails by 3.00 ms"),
        ([("x", _ms(3)), ("y", Estimate.at_least("d", 0.05, unit="s"))], "slowest on y: smoothing is longer than 50.0"),
        ([("x", Estimate.at_most("d", 0.004, unit="s"))], "In the hand, x: any smoothing is shorter than 4.00 ms"),
    ],
)
def test_the_slowest_way_is_said_and_bounds_only_where_there_is_nothing_else(
    delays: list[tuple[str, Estimate]], words: str
) -> None:
    assert words in slowest_sentence("In the hand", delays)
    assert slowest_sentence("In the hand", [("x", Estimate.not_resolved("d", unit="s"))]) == ""


def test_the_clearest_asymmetry_is_said_and_one_that_was_not_told_or_is_tiny_is_not() -> None:
    told, unsure = ("left_x", _ratio(0.6, 0.05)), ("left_y", _ratio(1.6, 0.9))
    assert most_telling([unsure]) == ""
    assert most_telling([("bench", _ratio(0.9987, 0.0005))]) == ""
    assert most_telling([unsure, ("left_z", _ratio(1.2, 0.02)), told]).startswith("left_x: it rises more slowly")


@pytest.mark.parametrize(
    ("drift", "words"),
    [
        (_deg(1.2, 0.1), "towards the side where the code rises, by 1.20 deg"),
        (_deg(-1.2, 0.1), "towards the side where the code falls, by 1.20 deg"),
        (_deg(1.2, 0.9), "was not told"),
    ],
)
def test_drift_follows_sign_and_interval(drift: Estimate, words: str) -> None:
    assert words in drift_sentence("birch", drift)


def _used(axis: str, drift: Estimate, carry: Estimate) -> FeelAxis:
    estimates = {"carry_on_after_release": carry, "drift_per_pair": drift}
    return FeelAxis(axis=axis, state="as_found", origin="hand", plane="unknown", estimates=estimates)


def test_use_is_said_of_the_axis_where_it_is_most() -> None:
    axes = (_used("x", _deg(1.2, 0.1), _deg(1.0, 0.1)), _used("y", _deg(3.0, 4.0), _deg(2.0, 0.1)))
    said = summary_sentences(Report(title="t", feel=(FeelResult(specimen="birch", play=Play(), axes=axes),)))
    assert said == [
        "birch. y at 200 deg/s: after letting go the view turns on by 2.00 deg (1.80 to 2.20).",
        "birch. x: a pair of opposite flicks drifts towards the side where the code rises, by 1.20 deg (1.00 to 1.40).",
    ]


def test_a_specimen_is_said_once_with_everything_that_is_known_of_it() -> None:
    compared = Comparison(baseline="alder", candidates=("birch",), metrics=(ROW,), chain=(LINK,))
    report = Report(title="t", comparison=compared)
    assert [row.specimen for row in glance_rows(report)] == ["alder", "birch"]
    said = summary_sentences(report)
    assert said[0].startswith("alder. In the hand, left_x with the code falling: the output trails by 3.00 ms")
    assert said[1].startswith("birch. In the hand, slowest on left_x with the code falling: the output trails by 14.00")
    assert said[2].startswith("birch. Against alder, smoothing delay (margin 1 ms): different")
    assert said[3].startswith("birch. left_x rising: bench to hand agree")


def test_a_page_without_results_says_so() -> None:
    assert summary_sentences(Report(title="Empty")) == ["Nothing has been measured yet."]
