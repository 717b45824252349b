"""Sheets as SVG: the same panels as in pictures of pixels, every mark at its place, harmless and whole."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from feelcheck.renderers._panels import Panel, Sheet, heading, logarithmic, sheet
from feelcheck.renderers._style import LIGHT
from feelcheck.renderers.svg.axes import SvgAxes
from feelcheck.renderers.svg.marks import line_path, symbols_path, text_width_pt
from feelcheck.renderers.svg.sheet import sheet_svg
from feelcheck.renderers.svg.ticks import linear_ticks, log_ticks, tick_words

NAMESPACE = "{http://www.w3.org/2000/svg}"


def one(draw: Callable[[Any], None], **extra: Any) -> Sheet:
    return sheet([Panel(draw=draw, description="A panel.", **extra)], panel_in=(5.0, 3.0))


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)


def paths(text: str, colour: str) -> list[list[tuple[float, float]]]:
    """The points of every path stroked in a colour."""
    found = []
    for path in parsed(text).iter(f"{NAMESPACE}path"):
        if f"stroke:{colour}" in path.get("style", ""):
            numbers = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d", ""))]
            found.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return found


def texts(text: str) -> dict[str, tuple[float, float]]:
    return {
        e.text or "": (float(e.get("x", "0")), float(e.get("y", "0"))) for e in parsed(text).iter(f"{NAMESPACE}text")
    }


def test_a_point_lies_between_the_ticks_that_it_lies_between() -> None:
    def draw(ax: Axes) -> None:
        ax.plot([2.5, 7.5], [25.0, 75.0], color="#123456")
        ax.set_xlim(0, 10)
        ax.set_ylim(0, 100)
        ax.set_xticks([0, 5, 10])
        ax.set_yticks([0, 50, 100])

    text = sheet_svg(one(draw), name="f")
    at = texts(text)
    (((x0, y0), (x1, y1)),) = paths(text, "#123456")
    assert x0 == pytest.approx((at["0"][0] + at["5"][0]) / 2, abs=60), "of three labels two say 0"
    assert [x0, x1] == pytest.approx([(3 * at["5"][0] - at["10"][0]) / 2, (at["5"][0] + at["10"][0]) / 2], abs=0.2)
    assert y0 - y1 == pytest.approx(at["50"][1] - at["100"][1], abs=0.2)
    assert y1 == pytest.approx((at["50"][1] + at["100"][1]) / 2 - 0.35 * 7.5, abs=0.3)


def test_a_logarithmic_side_gives_every_decade_the_same_length() -> None:
    def draw(ax: Axes) -> None:
        ax.plot([0.1, 1.0, 10.0, 100.0], [1, 1, 1, 1], color="#123456")
        logarithmic(ax, x=True)

    ((a, b, c, d),) = paths(sheet_svg(one(draw), name="f"), "#123456")
    assert [b[0] - a[0], c[0] - b[0]] == pytest.approx([d[0] - c[0]] * 2, abs=0.2)


def test_a_gap_breaks_a_line_and_draws_no_symbol() -> None:
    x, y = np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 1.0, np.nan, 3.0])
    assert line_path(x, y) == "M0.0 0.0 1.0 1.0M3.0 3.0"
    assert symbols_path("s", x, y, 2.0).count("M") == 3


def test_strips_share_the_time_axis_of_their_panel() -> None:
    def draw(ax: Axes) -> None:
        ax.plot([0, 10], [0, 1], color="#123456")
        ax.set_xlabel("hidden, ms")

    def strip(ax: Axes) -> None:
        ax.plot([0, 10], [5, 5], color="#654321")
        ax.set_xlabel("time, ms")

    text = sheet_svg(one(draw, strips=(strip,)), name="f")
    assert "hidden, ms" not in text
    assert "time, ms" in texts(text)
    (upper,), (lower,) = paths(text, "#123456"), paths(text, "#654321")
    assert [x for x, _ in upper] == [x for x, _ in lower]
    assert min(y for _, y in lower) > max(y for _, y in upper)


@pytest.mark.parametrize("n", [10, 90, 300])
def test_a_long_line_under_the_title_stays_on_the_sheet(n: int) -> None:
    drawn = one(lambda ax: heading(ax, "Title", "0" * n))
    (line,) = (e for e in parsed(sheet_svg(drawn, name="f")).iter(f"{NAMESPACE}text") if e.text == "0" * n)
    size = float(line.get("style", "").removeprefix("font-size:").partition("px")[0])
    assert float(line.get("x", "0")) + text_width_pt("0" * n, size) <= 72.0 * drawn.width_in + 0.5
    assert (size < 7.5) is (n > 10)


def test_panels_keep_to_what_general_purpose_axes_take() -> None:
    ours = {name for name in vars(SvgAxes) if not name.startswith("_")}
    asked_by_the_sheet = {"labelled", "range_of", "ticks_of", "widest_tick_pt"}
    assert ours - asked_by_the_sheet <= set(dir(Axes))


def _all_kinds(ax: Any) -> None:
    ax.plot([0, 1, 2], [0, 2, 1], label="line", color=LIGHT["first"], linestyle=(0, (5, 1.6)), marker="o", markersize=3)
    ax.axvline(1.0, label="instant", color=LIGHT["ink"])
    ax.axhline(0.5, color=LIGHT["soft"])
    ax.vlines([0.5, 1.5], 0.0, [1.0, 2.0], color=LIGHT["second"])
    ax.fill_between([0, 1, 2], [0, 0, 0], [1, 2, 1], label="band", facecolor="none", edgecolor="#b9b4a8", hatch="////")
    ax.barh(1.0, 0.5, height=0.4, left=0.2, facecolor="none", edgecolor="#b9b4a8", hatch="....")
    ax.errorbar([0.4], [1.5], xerr=[0.2], fmt="o", markersize=3, color="#1d5b62", elinewidth=0.7)
    ax.annotate("words <&> \u202e", (1, 1), (3, 4), textcoords="offset points", fontsize=7)
    ax.set_xlabel("time, ms")
    ax.set_ylabel("level")
    ax.legend(loc="best", handlelength=2.0)
    heading(ax, "Title", "one line\nanother")


def test_both_ways_of_drawing_show_the_same_ranges_and_words() -> None:
    ours, theirs = SvgAxes(), Figure().add_subplot()
    _all_kinds(ours)
    _all_kinds(theirs)
    assert ours.range_of("x") == pytest.approx(theirs.get_xlim(), abs=0.03)
    assert ours.title == theirs.get_title(loc="left") or ours.title == theirs.get_title()
    assert (ours.labels["x"], ours.labels["y"]) == (theirs.get_xlabel(), theirs.get_ylabel())
    assert {mark.label for mark in ours.labelled} <= set(theirs.get_legend_handles_labels()[1])
    assert [note.words for note in ours.notes] == [text.get_text() for text in theirs.texts]


def test_the_text_is_whole_harmless_and_names_itself() -> None:
    text = sheet_svg(one(_all_kinds), name="f7", by_role=True, title="A < B", description="Two & two")
    root = parsed(text)
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(str(name).startswith("f7-") for name in ids)
    assert set(re.findall(r"url\(#([^)]*)\)", text)) <= set(ids)
    assert "\u202e" not in text
    assert root.get("width") is None
    assert "var(--first, #1d5b62)" in text
    alone = sheet_svg(one(_all_kinds), name="f7", mark="Made by feelcheck: x.")
    assert "var(" not in alone
    assert alone.count("Made by feelcheck: x.") == 1
    assert parsed(alone).get("width") == "360pt"


@pytest.mark.parametrize(("low", "high"), [(-3.2, 97.0), (0.0, 1.0), (-1e-7, 3e-7), (1e6, 1.00001e6), (-0.61, 0.3)])
@pytest.mark.parametrize("n_most", [2, 5, 9])
def test_ticks_are_few_round_and_inside(low: float, high: float, n_most: int) -> None:
    ticks = linear_ticks(low, high, n_most)
    assert 2 <= len(ticks) <= max(n_most, 2)
    slack = 1e-6 * (high - low)
    assert all(low - slack <= tick <= high + slack for tick in ticks)
    assert len(set(tick_words(ticks))) == len(ticks)


def test_ticks_of_decades() -> None:
    assert log_ticks(0.05, 2000.0, 9) == pytest.approx([0.1, 1.0, 10.0, 100.0, 1000.0])
    assert log_ticks(-1.0, 5.0, 9) == [5.0]


def test_an_empty_panel_and_a_single_point_have_a_range() -> None:
    assert "<svg" in sheet_svg(one(lambda ax: None), name="f")
    assert "nan" not in sheet_svg(one(lambda ax: ax.plot([3.0], [0.0], "o")), name="f")
