"""The page for people who see little or nothing: contrast, names of landmarks, order of headings, text alternatives."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from feelcheck.model import (
    AxisResult,
    DirectionResponse,
    Estimate,
    HandResult,
    Provenance,
    Recording,
    Report,
    TimingResult,
    Trace,
)
from feelcheck.renderers._style import DARK, LIGHT
from feelcheck.renderers.report import report_html

LEAST = 4.5
"""Contrast of small text: success criterion 1.4.3 of the Web Content Accessibility Guidelines 2.2, W3C Recommendation.
Lines that mean something share these inks and need less (3, criterion 1.4.11)."""


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, by the definition of relative luminance in the same guidelines."""

    def luminance(colour: str) -> float:
        shares = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
        return float(np.dot((0.2126, 0.7152, 0.0722), linear))

    low, high = sorted(map(luminance, (one, other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("roles", [LIGHT, DARK], ids=["light", "dark"])
def test_every_ink_of_words_and_marks_stands_out_from_its_paper(roles: dict[str, str]) -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for role in ("ink", "soft", "first", "second", "third"):
        assert contrast(roles[role], roles["paper"]) >= LEAST, role


class _Spoken(HTMLParser):
    """What a screen reader is told: landmarks by name, headings by level, pictures by title."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.language, self.words = "", dict[str, str]()
        self.landmarks, self.headings, self.pictures = list[str](), list[int](), list[list[str]]()
        self._open = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        self.language = told.get("lang", self.language) if tag == "html" else self.language
        if tag == "section" or told.get("role") == "region":
            self.landmarks.append(told.get("aria-label") or told["aria-labelledby"])
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "svg":
            self.pictures.append(told["aria-labelledby"].split())
        self._open = told.get("id", "")

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open:
            self.words[self._open] = self.words.get(self._open, "") + data


@pytest.fixture(scope="module")
def spoken() -> _Spoken:
    def none(quantity: str, unit: str = "s") -> Estimate:
        return Estimate.not_resolved(quantity, unit=unit)

    delay = Estimate.measured("smoothing_delay", 0.01, u=2e-4, unit="s")
    response = DirectionResponse(
        time_constant=delay, transition_10_90=none("transition_10_90"), smoothing_delay=delay, mean_delay=delay
    )
    axis = AxisResult(
        name="x", quantization_step=none("quantization_step", "counts"), resolution=none("resolution", "bits"),
        rest_noise=none("rest_noise", "counts"), return_error=none("return_error", "fraction"),
        dead_zone=none("dead_zone", "fraction"), update_interval=none("update_interval"), polarity=None,
        rising=response, falling=response, asymmetry=none("asymmetry", "ratio"),
    )  # fmt: skip
    rest = {"t_s": np.arange(9.0), "reading": np.arange(9.0), "averaging_s": np.ones(3), "allan_deviation": np.ones(3)}
    alder = HandResult(
        recording=Recording(streams=(), provenance=Provenance(specimen="alder")), n_reports=10, duration_s=1.0,
        timing=TimingResult(report_interval=none("i"), host_jitter=none("j"), lost_report_fraction=none("l")),
        axes={"x": axis}, release={}, flicks=(), caveats=(), traces=(Trace(kind="rest", axis="x", arrays=rest),),
    )  # fmt: skip
    birch = replace(alder, recording=Recording(streams=(), provenance=Provenance(specimen="birch")))
    found = _Spoken()
    found.feed(report_html(Report(title="t", hand=(alder, birch))))
    return found


def test_every_landmark_has_a_name_of_its_own(spoken: _Spoken) -> None:
    names = [" ".join(spoken.words.get(one, one) for one in name.split()) for name in spoken.landmarks]
    assert len(names) == len(set(names)) > 6
    assert any(name.startswith("birch ") for name in names)


def test_headings_leave_no_level_out_and_the_language_is_told(spoken: _Spoken) -> None:
    assert spoken.language == "en"
    assert spoken.headings[0] == 1
    assert all(after <= before + 1 for before, after in zip(spoken.headings, spoken.headings[1:], strict=False))


def test_every_picture_has_a_title_and_says_what_is_to_be_seen(spoken: _Spoken) -> None:
    assert len(spoken.pictures) >= 4
    for names in spoken.pictures:
        title, described = (spoken.words[name] for name in names)
        assert title
        assert len(described) > 20
