"""The panel of a flick with its smoothing undone says by which delay the thumb went through the rim, and draws it."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from feelcheck.model import Trace
from feelcheck.renderers._flick_panels import unsmoothed_panel


def trace() -> Trace:
    t = np.linspace(-0.05, 0.1, 150)
    way = np.clip(1.0 + t / 0.05, 0.0, 1.0)
    return Trace(
        kind="unsmoothed",
        axis="left_x",
        arrays={
            "t_s": t,
            "measured_fraction": 0.9 * way,
            "chosen_fraction": way,
            "rejected_fraction": way + 0.4 * np.exp(-np.abs(t) / 0.01),
        },
        marks={"chosen_delay_s": 0.009, "rejected_delay_s": 0.023, "gives_fraction": 0.03},
        labels={"stick": "left"},
    )


def test_it_says_how_far_the_thumb_would_have_gone_through_the_rim() -> None:
    panel = unsmoothed_panel(trace())
    ax = Figure().add_subplot()
    panel.draw(ax)
    legend = ax.get_legend()
    assert legend is not None
    words = [text.get_text() for text in legend.get_texts()]
    assert "undone by 9 ms" in words
    assert "undone by 23 ms" in words
    assert "through the rim" in panel.description
    assert "at 23 ms the thumb went 39 %" in panel.description
    assert ax.get_ylim()[1] > 139.0
