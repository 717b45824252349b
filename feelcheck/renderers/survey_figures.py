"""Figures of a survey: every stick of a population on one line, and recordings in order of time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from feelcheck.counted import counted
from feelcheck.model import ControlChart, PopulationQuantity
from feelcheck.numerics.uncertainty import NORMAL_95
from feelcheck.renderers._panels import Panel, Picture, heading, sheet
from feelcheck.renderers._style import INK, LANES, LIGHT, MARK, REFERENCE, SOFT
from feelcheck.renderers.survey_words import bare_words, limits_words, number_words, quantity_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["chart_picture", "population_picture"]

MOST_NAMED = 6
_SHARES = {"fraction": ("%", 100.0), "ratio": ("", 1.0)}


def population_picture(of: PopulationQuantity) -> Picture:
    """Return the sticks in order of their value against the share that lies below, with limits and outliers.

    Parameters
    ----------
    of : PopulationQuantity
        What is drawn.
    """
    told = [limits_words(limits, of.unit) for limits in of.below]
    words = f"{counted(len(of.sticks), 'stick')}, median {number_words(of.median, of.unit)}"
    words += f"; {told[-1]}" if told else ""
    panel = Panel(
        draw=lambda ax: _draw_population(ax, of, words),
        description=f"{quantity_words(of)}: {'; '.join([words, *told[:-1]])}.",
    )
    return _picture(panel, f"Distribution of {quantity_words(of)}")


def _picture(panel: Panel, title: str) -> Picture:
    return Picture(sheet=sheet([panel], panel_in=(7.2, 2.9)), title=title, description=panel.description)


def _draw_population(ax: Axes, of: PopulationQuantity, words: str) -> None:
    unit, factor = _SHARES.get(of.unit, (of.unit, 1.0))
    known = sorted((stick for stick in of.sticks if stick.value is not None), key=lambda stick: stick.value or 0.0)
    values = factor * np.array([stick.value for stick in known])
    half = NORMAL_95 * factor * np.array([stick.u or 0.0 for stick in known])
    bounded = factor * np.sort([stick.at_most for stick in of.sticks if stick.at_most is not None])
    n = len(of.sticks)
    # Sticks with a bound from above lie below all values; each stands in the middle of its step (k + 1/2 of n).
    share = 100 * (np.arange(values.size) + 0.5 + bounded.size) / n
    ax.errorbar(
        values, share, xerr=half, fmt="o", markersize=3, color=LANES[0]["color"], elinewidth=0.7, label="stick, 95 %"
    )
    if bounded.size:
        ax.plot(bounded, 100 * (np.arange(bounded.size) + 0.5) / n, "<", color=SOFT, markersize=4)
    for limits in of.below[1:]:
        ax.axvline(factor * limits.high, **REFERENCE)
        ax.annotate(f"{100 * limits.share:g} % below", (factor * limits.high, 2), (2, 0), textcoords="offset points",
                    fontsize=7, rotation=90, color=SOFT, va="bottom")  # fmt: skip
    off = {outlier.name for outlier in of.outliers}
    for stick, value, height in list(zip(known, values, share, strict=True)):
        if stick.name in off:
            ax.plot([value], [height], "o", markersize=8, fillstyle="none", color=LIGHT["second"])
    for outlier in of.outliers[:MOST_NAMED]:
        place = [stick.name for stick in known].index(outlier.name)
        ax.annotate(
            outlier.name, (values[place], share[place]), (6, -3), textcoords="offset points", fontsize=7, color=INK
        )
    ax.set_ylim(-2, 102)
    ax.set_xlabel(f"{bare_words(of)}{f', {unit}' if unit else ''}")
    ax.set_ylabel("sticks below, %")
    heading(ax, quantity_words(of), words)


def chart_picture(of: PopulationQuantity) -> Picture | None:
    """Return the recordings in order of time with control limits, None where there are too few.

    Parameters
    ----------
    of : PopulationQuantity
        What is drawn.
    """
    chart = of.chart
    if chart is None:
        return None
    limits = f"limits {number_words(chart.low, of.unit)} to {number_words(chart.high, of.unit)}"
    odd = f"{len(chart.beyond)} of {len(chart.values)} beyond, {len(chart.runs)} at the end of a run of eight"
    panel = Panel(draw=lambda ax: _draw_chart(ax, of, chart, f"{limits}; {odd}"),
                  description=f"{quantity_words(of)} of each recording in order of time: {limits}; {odd}.")  # fmt: skip
    return _picture(panel, f"Control chart of {quantity_words(of)}")


def _draw_chart(ax: Axes, of: PopulationQuantity, chart: ControlChart, words: str) -> None:
    unit, factor = _SHARES.get(of.unit, (of.unit, 1.0))
    values = factor * np.array(chart.values)
    k = np.arange(1, values.size + 1)
    ax.plot(k, values, "-", linewidth=0.6, color=LIGHT["faint"])
    ax.plot(k, values, "o", markersize=3, color=LANES[0]["color"])
    for level, style in ((chart.centre, MARK), (chart.low, REFERENCE), (chart.high, REFERENCE)):
        ax.axhline(factor * level, **style)
    odd = sorted({*chart.beyond, *chart.runs})
    ax.plot(k[odd], values[odd], "o", markersize=8, fillstyle="none", color=LIGHT["second"])
    for place in chart.beyond[:MOST_NAMED]:
        ax.annotate(chart.names[place], (k[place], values[place]), (5, 4), textcoords="offset points", fontsize=7)
    changes = [j for j in range(1, len(k)) if chart.batches[j] != chart.batches[j - 1]]
    if len(changes) <= len(k) // 4:
        for j in changes:
            ax.axvline(j + 0.5, color=LIGHT["grid"], linewidth=1.0, zorder=0)
    ax.set_xlabel("recording, in order of time" if chart.dated else "recording, dated ones first, then by path")
    ax.set_ylabel(f"{bare_words(of)}{f', {unit}' if unit else ''}")
    heading(ax, quantity_words(of), words)
