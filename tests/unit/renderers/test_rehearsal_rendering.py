"""A rehearsal in text, JSON, a record's listing and on the page."""

from __future__ import annotations

from dataclasses import replace

import pytest

from feelcheck.model import Estimate, FeelResult, Play, Profile, RehearsalRecord, Report
from feelcheck.renderers.profile_text import profile_document, profile_text
from feelcheck.renderers.report import report_html
from feelcheck.renderers.report.trials import beside_table, rehearsals_table, threshold_sentence

SHARE = Estimate.measured("proportion_correct", 18 / 23, u=0.09, unit="fraction", n=23)


def threshold(value_s: float, u_s: float) -> Estimate:
    return Estimate.measured("threshold", value_s, u=u_s, unit="s", n=60, scale="log")


def record(value_s: float = 0.008, u_s: float = 0.001, *, simulated: bool = False) -> RehearsalRecord:
    return RehearsalRecord(
        kind="staircase", seal="ab", date="2026-11-29", specimens=("stick in hand",), person="p1", slowness="both",
        n=60, n_correct=45, simulated=simulated, estimates={"threshold": threshold(value_s, u_s)},
    )  # fmt: skip


def trials(n_correct: int = 18) -> RehearsalRecord:
    return RehearsalRecord(
        kind="trials", seal="cd", specimens=("alder", "birch"), person="p1", n=23, n_correct=n_correct, p_value=0.005,
        estimates={"proportion_correct": SHARE},
        intervals={"proportion_correct": (0.563, 0.925)},
    )  # fmt: skip


def report(difference_s: float, u_s: float, *records: RehearsalRecord) -> Report:
    in_use = FeelResult(
        specimen="birch", play=Play(), axes=(), difference_at="left_x, falling",
        difference=Estimate.measured("difference_of_delay", difference_s, u=u_s, unit="s"),
    )  # fmt: skip
    return Report(title="pads", profiles=(Profile(specimen="birch", rehearsals=records),), feel=(in_use,))


@pytest.mark.parametrize(
    ("difference_s", "u_s", "verdict"),
    [
        (0.015, 0.0005, "larger than the threshold"),
        (-0.015, 0.0005, "larger than the threshold"),
        (0.003, 0.0005, "smaller than the threshold"),
        (0.009, 0.0005, "cannot be told"),
        (0.002, 0.0080, "cannot be told"),
    ],
)
def test_a_threshold_stands_beside_a_difference_with_both_intervals(
    difference_s: float, u_s: float, verdict: str
) -> None:
    table = beside_table(report(difference_s, u_s, record()))
    assert [row[-1].text for row in table.rows] == [verdict]
    assert "named less often" in " ".join(table.footnotes)


def test_the_sentence_is_a_persons_never_a_simulated_observers() -> None:
    said = threshold_sentence(report(0.015, 0.0005, record()))
    assert said.startswith("p1 names an added delay of 8.0")
    assert "larger than that" in said
    assert threshold_sentence(report(0.015, 0.0005, record(simulated=True))) == ""
    assert threshold_sentence(report(0.015, 0.0005)) == ""


def test_every_figure_of_every_rehearsal_is_a_row_with_its_exact_interval() -> None:
    table = rehearsals_table(
        report(0.01, 0.001, record(), trials(), replace(trials(), seal="ef", aborted=True)).profiles
    )
    texts = [[cell.text for cell in row] for row in table.rows]
    assert texts[0][1] == "own threshold"
    assert texts[0][-1] == "both ways slowed alike"
    assert texts[1][2:4] == ["share of correct answers", "78 % (56 to 92)"]
    assert texts[1][6:9] == ["23", "18", "0.5 %"]
    assert texts[2][-1] == "ended early"


def test_what_was_called_a_and_b_is_named_in_the_table() -> None:
    value = Estimate.measured("throughput", 2.3, u=0.1, unit="bit/s")
    aimed = replace(
        trials(),
        kind="aiming",
        specimens=("alder", "birch"),
        estimates={"throughput_b": value, "throughput_difference": value},
    )
    figures = [row[2].text for row in rehearsals_table(report(0.01, 0.001, aimed).profiles).rows]
    assert figures == ["birch: throughput", "difference of throughput, birch less alder"]


def test_the_page_has_a_section_where_something_was_rehearsed() -> None:
    text = report_html(report(0.015, 0.0005, record(), trials()))
    assert 'id="rehearsed"' in text
    assert "A threshold of one&#39;s own beside measured differences" in text
    assert "larger than the threshold" in text
    assert 'id="rehearsed"' not in report_html(report(0.015, 0.0005))


def test_a_records_listing_holds_its_rehearsals() -> None:
    profile = Profile(specimen="birch", rehearsals=(record(), trials()))
    text = profile_text(profile)
    assert "Rehearsals" in text
    assert "78 % (56 to 92)" in text
    found = profile_document(profile)["rehearsals"]
    assert [one["kind"] for one in found] == ["staircase", "trials"]
    assert found[0]["estimates"]["threshold"]["unit"] == "ms"
    assert found[1]["estimates"]["proportion_correct"]["high"] == 0.925
