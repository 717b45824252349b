"""The figure of `feelcheck feel`: angles and times with their intervals, specimens under each other."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.model import FeelResult
from feelcheck.renderers._interval_panels import DENSE_ROW_IN, Row, interval_panel, stacked
from feelcheck.renderers._panels import Panel, Picture, Sheet

__all__ = ["feel_figure", "feel_pictures"]

TOPICS = (
    ("fraction", "How far the output trails the thumb in a flick", "trailing"),
    ("deg", "Angles of the view", "angle"),
    ("s", "Time to settle after letting go", "time"),
)
SHORT_WORDS = {
    "trailing_rising": "code rising",
    "trailing_falling": "code falling",
    "carry_on_after_release": "turns on, code falling",
    "carry_on_opposite": "turns on, code rising",
    "drift_per_pair": "drift of a pair of flicks",
    "settle_after_release": "electronics at rest",
}


def feel_figure(results: Sequence[FeelResult]) -> Sheet:
    """Return what responses mean in use, as far as it is an angle or a time.

    Parameters
    ----------
    results : sequence of FeelResult
        One a specimen.
    """
    return stacked(list(_panels(results).values()), title="In use: " + ", ".join(result.specimen for result in results))


def feel_pictures(results: Sequence[FeelResult]) -> dict[str, Picture]:
    """Return a picture for a page under each quantity: ``trailing``, ``angle``, ``time``, as far as there are any.

    Parameters
    ----------
    results : sequence of FeelResult
        Results, one a recording, capture or specimen.
    """
    return {
        quantity: Picture(
            sheet=stacked([(panel, n_rows)], row_in=DENSE_ROW_IN), title=title, description=panel.description
        )
        for (quantity, title), (panel, n_rows) in _panels(results).items()
    }


def _panels(results: Sequence[FeelResult]) -> dict[tuple[str, str], tuple[Panel, int]]:
    panels = {}
    for unit, title, quantity in TOPICS:
        rows = [
            Row(label=f"{result.specimen} {axis.axis}: {SHORT_WORDS[name]}", estimates=(estimate,))
            for result in results
            for axis in result.axes
            for name, estimate in axis.estimates.items()
            if name in SHORT_WORDS and estimate.unit == unit
        ]
        if rows:
            panel = interval_panel(title, "thick: 90 %, thin: 95 % interval; arrows: bounds", quantity, rows)
            panels[quantity, title] = (panel, len(rows))
    return panels
