"""Every sentence of the page comes from its estimate: another status, sign or interval, another sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feelcheck.model import ChainLink, Estimate, MetricComparison
from feelcheck.renderers.report.sentences import (
    asymmetry_sentence,
    besides_sentence,
    carry_sentence,
    chain_sentence,
    chain_sentences,
    delay_sentence,
    difference_sentence,
    direction_sentence,
    drift_sentence,
    trailing_sentence,
)
from feelcheck.renderers.report.summary import slowest_sentence

DELAY = Estimate.measured("smoothing_delay", 0.009, u=1e-4, unit="s")
ROW = MetricComparison(
    name="smoothing_delay", direction="falling", axis="left_x", state="as_found", candidate_name="birch",
    baseline=DELAY, candidate=DELAY, difference=DELAY, margin=0.001, verdict="different", detected=True, low90=0.0,
    high90=0.0, p_difference=0.0, p_equivalence=1.0, scope="recording", why="",
)  # fmt: skip
LINK = ChainLink(
    specimen="birch", axis="left_x", state="as_found", direction="rising", link="bench-hand", predicted=DELAY,
    measured=DELAY, difference=DELAY, margin=0.001, verdict="disagree",
)  # fmt: skip
FAR = replace(ROW, direction="rising", difference=Estimate.measured("difference", 9.0, u=1e-4, unit="s"))
HELD = replace(LINK, verdict="agree")

SENTENCES: dict[str, tuple[str, Callable[[Estimate], str]]] = {
    "delay": ("s", lambda e: delay_sentence("birch", e)),
    "slowest": ("s", lambda e: slowest_sentence("In the hand", [("x", e)])),
    "difference": ("s", lambda e: difference_sentence([replace(ROW, difference=e)], "alder")),
    "other difference": ("s", lambda e: besides_sentence([replace(ROW, difference=e)])),
    "one of two differences": ("s", lambda e: difference_sentence([replace(ROW, difference=e), FAR], "alder")),
    "equivalent": ("s", lambda e: difference_sentence([replace(ROW, difference=e, verdict="equivalent")], "alder")),
    "undecided": ("s", lambda e: difference_sentence([replace(ROW, difference=e, verdict="undecided")], "alder")),
    "farthest apart": ("s", lambda e: " ".join(chain_sentences([replace(HELD, measured=e), HELD]))),
    "chain, measured": ("s", lambda e: chain_sentence(replace(LINK, measured=e))),
    "chain, predicted": ("s", lambda e: chain_sentence(replace(LINK, predicted=e))),
    "carry-on": ("deg", lambda e: carry_sentence("birch", e)),
    "trailing": ("fraction", lambda e: trailing_sentence("birch", e, None)),
    "direction": ("deg", lambda e: direction_sentence("birch", e)),
}
SIGNED: dict[str, tuple[str, Callable[[Estimate], str]]] = {
    "drift": ("deg", lambda e: drift_sentence("birch", e)),
    "asymmetry": ("ratio", lambda e: asymmetry_sentence("birch", e)),
    "difference": ("s", SENTENCES["difference"][1]),
}


def _every_status(value: float, unit: str) -> list[Estimate]:
    return [
        Estimate.measured("q", value, u=0.02 * value, unit=unit),
        Estimate.at_most("q", value, unit=unit),
        Estimate.at_least("q", value, unit=unit),
        Estimate.not_resolved("q", unit=unit),
    ]


@pytest.mark.parametrize("name", SENTENCES)
@given(value=st.floats(0.001, 0.5))
def test_every_status_is_said_in_its_own_way(name: str, value: float) -> None:
    unit, said = SENTENCES[name]
    sentences = [said(estimate) for estimate in _every_status(value, unit)]
    assert len(set(sentences)) == len(sentences), sentences
    assert "nan" not in " ".join(sentences)
    assert "None" not in " ".join(sentences)


@pytest.mark.parametrize("name", [*SENTENCES, "drift"])
@given(value=st.floats(0.001, 0.5), stretch=st.floats(1.5, 5))
def test_another_value_or_interval_is_another_sentence(name: str, value: float, stretch: float) -> None:
    unit, said = (SENTENCES | SIGNED)[name]
    usual, wider, larger = (
        said(Estimate.measured("q", v, u=u, unit=unit))
        for v, u in ((value, 0.05 * value), (value, 0.05 * value * stretch), (value * stretch, 0.05 * value))
    )
    assert len({usual, wider, larger}) == 3


@pytest.mark.parametrize("name", SIGNED)
@given(value=st.floats(0.01, 0.5))
def test_the_sign_and_an_interval_over_none_change_the_words(name: str, value: float) -> None:
    unit, said = SIGNED[name]
    middle = 1.0 if unit == "ratio" else 0.0
    kinds = [(middle + value, 0.1 * value), (middle - value, 0.1 * value), (middle + 0.1 * value, value)]
    sentences = [said(Estimate.measured("q", v, u=u, unit=unit)) for v, u in kinds]
    without_numbers = {"".join(c for c in sentence if not c.isdigit() and c not in ".-()") for sentence in sentences}
    assert len(without_numbers) == 3, sentences
