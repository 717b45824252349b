"""The look of every figure in one place: inks, line styles, markers and hatches that differ without colour."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

__all__ = [
    "DARK",
    "FAINT",
    "FIT",
    "GRID",
    "HATCHES",
    "INK",
    "LANES",
    "LIGHT",
    "MARK",
    "PAPER",
    "PREDICTED",
    "REFERENCE",
    "REPORTS",
    "SOFT",
    "styled",
]

LIGHT = {
    "paper": "#fcfbf8",
    "ink": "#22272c",
    "soft": "#626a72",
    "grid": "#dcd8cf",
    "faint": "#b9b4a8",
    "first": "#1d5b62",
    "second": "#96502a",
    "third": "#575489",
}
DARK = {
    "paper": "#171a1d",
    "ink": "#e7e4db",
    "soft": "#a3a9af",
    "grid": "#343a40",
    "faint": "#5d646b",
    "first": "#86c5c8",
    "second": "#e2a582",
    "third": "#b6b2e0",
}
"""The same roles on light and dark paper; a page swaps one for the other by role."""

PAPER, INK, SOFT, GRID = LIGHT["paper"], LIGHT["ink"], LIGHT["soft"], LIGHT["grid"]

FIT: dict[str, Any] = {"color": LIGHT["second"], "linestyle": "-", "linewidth": 1.6, "zorder": 4}
PREDICTED: dict[str, Any] = {"color": LIGHT["second"], "linestyle": (0, (5, 1.6)), "linewidth": 1.5, "zorder": 4}
FAINT: dict[str, Any] = {"color": LIGHT["faint"], "linestyle": "-", "linewidth": 0.6, "zorder": 2}
MARK: dict[str, Any] = {"color": INK, "linestyle": (0, (1.2, 1.8)), "linewidth": 1.0, "zorder": 3}
REFERENCE: dict[str, Any] = {"color": SOFT, "linestyle": (0, (4, 2.5)), "linewidth": 0.9, "zorder": 1}
REPORTS: tuple[dict[str, Any], ...] = (
    {"color": LIGHT["first"], "marker": "o", "markersize": 2.8, "linestyle": "none", "fillstyle": "none"},
    {"color": LIGHT["third"], "marker": "s", "markersize": 2.8, "linestyle": "none", "fillstyle": "none"},
    {"color": INK, "marker": "^", "markersize": 3.0, "linestyle": "none", "fillstyle": "none"},
)
"""Raw readings of up to three events: told apart by the marker's shape."""

LANES: tuple[dict[str, Any], ...] = (
    {"color": LIGHT["first"], "linestyle": "-", "marker": "o"},
    {"color": LIGHT["second"], "linestyle": (0, (5, 1.6)), "marker": "s"},
    {"color": LIGHT["third"], "linestyle": (0, (1.4, 1.4)), "marker": "^"},
    {"color": INK, "linestyle": (0, (6, 1.5, 1.2, 1.5)), "marker": "D"},
)
"""Up to four axes or specimens in one panel: told apart by dash and marker."""

HATCHES = ("", "////", "....", "xxxx", "----", "\\\\\\\\")

_RC: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": 8.0,
    "axes.titlesize": 8.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 7.0,
    "axes.labelsize": 8.0,
    "axes.labelcolor": INK,
    "axes.titlecolor": INK,
    "axes.edgecolor": SOFT,
    "axes.linewidth": 0.7,
    "axes.facecolor": PAPER,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 7.5,
    "ytick.labelsize": 7.5,
    "xtick.major.size": 3.0,
    "ytick.major.size": 3.0,
    "xtick.major.width": 0.7,
    "ytick.major.width": 0.7,
    "legend.frameon": False,
    "legend.fontsize": 7.5,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "savefig.dpi": 150,
    "hatch.linewidth": 0.6,
    "hatch.color": INK,
    "path.simplify": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "feelcheck",
}


@contextmanager
def styled() -> Iterator[None]:
    """Draw and save inside this: the look holds, whatever the user's own settings are, and is put back afterwards.

    Notes
    -----
    Ticks and texts are made late, while a figure is saved, so saving needs the look as much as drawing does. Names are
    shown as they are: no mathematics is read into them, and a letter that the font lacks is no reason to complain.
    """
    import matplotlib as mpl

    with mpl.rc_context(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        mpl.rcdefaults()
        mpl.rcParams.update(_RC)
        yield
