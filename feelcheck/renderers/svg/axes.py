"""Axes that write themselves as SVG: what panels draw with, at a fraction of what general-purpose axes cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.renderers.svg.marks import text_width_pt
from feelcheck.renderers.svg.ticks import linear_ticks, log_ticks, tick_words

__all__ = ["Box", "Mark", "Note", "SvgAxes", "TickLabel"]

MARGIN = 0.05
"""Room round the data where no limits are set, as a share of their span."""
SIGNS = "osD^v<>|"
BAR_HEIGHT = 0.8
TICK_SIZE_PT = 7.5


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the sheet, pt; `bottom` is below `top`, so larger."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Return from left to right, pt."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Return from top to bottom, pt."""
        return self.bottom - self.top


@dataclass(slots=True, kw_only=True)
class Mark:
    """A line, its symbols, or an area, in the units of the axes.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Points; for an area one of its edges.
    y_to : ndarray, shape (n,), optional
        The other edge of an area.
    look : dict
        Keywords as of general-purpose axes: ``color``, ``linewidth``, ``marker`` ...
    span : str
        ``"x"`` or ``"y"``: the mark runs over the whole of that side.
    """

    x: FloatArray
    y: FloatArray
    y_to: FloatArray | None = None
    look: dict[str, Any] = field(default_factory=dict)
    span: str = ""

    @property
    def label(self) -> str:
        """Return its words in the key; empty without any."""
        return str(self.look.get("label") or "")

    @property
    def order(self) -> float:
        """Return what lies over what: the larger on top."""
        return float(self.look.get("zorder", 1.0 if self.y_to is not None else 2.0))


@dataclass(slots=True, kw_only=True)
class Note:
    """Words beside a place."""

    words: str
    at: tuple[float, float]
    offset: tuple[float, float]
    coords: tuple[str, str]
    look: dict[str, Any]

    def set_in_layout(self, _: bool, /) -> None:
        """Notes never move anything."""

    def set_bbox(self, box: dict[str, Any]) -> None:
        """Put paper behind the words.

        Parameters
        ----------
        box : dict
            How the paper looks, as of general-purpose axes.
        """
        self.look["bbox"] = box


@dataclass(slots=True)
class TickLabel:
    """What stands at one tick, and its colour where that is not the usual one."""

    words: str
    colour: str = ""

    def set_color(self, colour: str) -> None:
        """Give it a colour of its own.

        Parameters
        ----------
        colour : str
            As CSS writes it.
        """
        self.colour = colour


class SvgAxes:
    """The part of general-purpose axes that panels use; `feelcheck.renderers.svg.sheet` writes it.

    Notes
    -----
    Names and keywords are matplotlib's, so that one panel draws on a page and into a picture of pixels. A page has some
    130 axes; matplotlib takes 75 to 200 ms of processor time for each, this one about 3 ms.
    """

    def __init__(self) -> None:
        self.marks: list[Mark] = []
        self.notes: list[Note] = []
        self.title, self.labels = "", {"x": "", "y": ""}
        self.limits: dict[str, tuple[float, float] | None] = {"x": None, "y": None}
        self.log = {"x": False, "y": False}
        self.gridded = {"x": False, "y": True}
        self.ticks: dict[str, tuple[Sequence[float], Sequence[str] | None] | None] = {"x": None, "y": None}
        self.room = {"x": MARGIN, "y": MARGIN}
        self.most_ticks: dict[str, int] = {}
        self.tick_size_pt = {"x": 3.0, "y": 3.0}
        self.tick_pad_pt = {"x": 3.0, "y": 3.0}
        self.tick_labels: list[TickLabel] | None = None
        self.labelled_below, self.equal = True, False
        self.key_place: str | None = None
        self.key_length = 2.0
        self.spine_shown = {"left": True, "bottom": True}
        self.spines = {side: SimpleNamespace(set_visible=self._hider(side)) for side in self.spine_shown}

    def _hider(self, side: str) -> Any:
        return lambda visible: self.spine_shown.__setitem__(side, visible)

    # marks -----------------------------------------------------------------------------------------------------------

    def plot(self, *args: Any, **look: Any) -> None:
        """Draw a line, symbols, or both, through points.

        Parameters
        ----------
        *args : array-like, shape (n,), twice, and str
            Places across and up, then a form such as ``"o-"``.
        **look : dict
            Keywords as of general-purpose axes.
        """
        if len(args) == 3:
            form = args[2]
            look = {"marker": next((c for c in form if c in SIGNS), ""), **look}
            look.setdefault("linestyle", "-" if "-" in form else "none")
        self.marks.append(Mark(x=_row(args[0]), y=_row(args[1]), look=look))

    def axvline(self, x: float, **look: Any) -> None:
        """Draw a line from bottom to top.

        Parameters
        ----------
        x : float
            Where, in the units of the axes.
        **look : dict
            Keywords as of general-purpose axes.
        """
        self.marks.append(Mark(x=_row([x, x]), y=_row([np.nan, np.nan]), look=look, span="y"))

    def axhline(self, y: float, **look: Any) -> None:
        """Draw a line from side to side.

        Parameters
        ----------
        y : float
            Where, in the units of the axes.
        **look : dict
            Keywords as of general-purpose axes.
        """
        self.marks.append(Mark(x=_row([np.nan, np.nan]), y=_row([y, y]), look=look, span="x"))

    def vlines(self, x: Any, low: Any, high: Any, **look: Any) -> None:
        """Draw an upright line at each place.

        Parameters
        ----------
        x : float or array-like, shape (n,)
            The places.
        low, high : float or array-like, shape (n,)
            Where the lines end.
        **look : dict
            Keywords as of general-purpose axes.
        """
        at = _row(x)
        ends = [np.broadcast_to(_row(low), at.shape), np.broadcast_to(_row(high), at.shape), np.full(at.shape, np.nan)]
        self.marks.append(Mark(x=np.repeat(at, 3), y=np.column_stack(ends).ravel(), look=look))

    def fill_between(self, x: Any, low: Any, high: Any, **look: Any) -> None:
        """Draw the area between two lines.

        Parameters
        ----------
        x : array-like, shape (n,)
            The places.
        low, high : float or array-like, shape (n,)
            The lines.
        **look : dict
            Keywords as of general-purpose axes.
        """
        at = _row(x)
        edges = [np.array(np.broadcast_to(_row(edge), at.shape)) for edge in (low, high)]
        self.marks.append(Mark(x=at, y=edges[0], y_to=edges[1], look=look))

    def barh(self, y: float, width: float, height: float = BAR_HEIGHT, left: float = 0.0, **look: Any) -> None:
        """Draw a lying bar about a height.

        Parameters
        ----------
        y, height : float
            The middle of the bar and how high it is.
        width, left : float
            How long the bar is and where it begins.
        **look : dict
            Keywords as of general-purpose axes.
        """
        ends = np.array([left, left + width])
        self.fill_between(ends, y - height / 2, y + height / 2, **look)

    def hist(self, values: Any, *, bins: int, range: tuple[float, float], **look: Any) -> None:
        """Draw how many values lie in each bin, as one area on the floor.

        Parameters
        ----------
        values : array-like, shape (n,)
            What is counted.
        bins : int
            How many bins.
        range : (float, float)
            From the first bin's beginning to the last one's end.
        **look : dict
            Keywords as of general-purpose axes.
        """
        counts, edges = np.histogram(_row(values), bins=bins, range=range)
        self.fill_between(np.repeat(edges, 2)[1:-1], 0.0, np.repeat(counts, 2), **look)
        self.limits["y"] = (0.0, 1.05 * float(counts.max()) or 1.0)

    def errorbar(self, x: Any, y: Any, *, xerr: Any, fmt: str, elinewidth: float, **look: Any) -> None:
        """Draw symbols with lying intervals.

        Parameters
        ----------
        x, y : array-like, shape (n,)
            The symbols.
        xerr : float or array-like, shape (n,)
            Half of each interval.
        fmt : str
            The symbol, such as ``"o"``.
        elinewidth : float, pt
            Width of the intervals' lines.
        **look : dict
            Keywords as of general-purpose axes; `color` is one of them.
        """
        at, half, gap = _row(x), _row(xerr), np.full(_row(x).shape, np.nan)
        ends = np.column_stack([at - half, at + half, gap]).ravel()
        self.marks.append(Mark(x=ends, y=np.repeat(_row(y), 3), look={"linewidth": elinewidth, "color": look["color"]}))
        self.plot(at, y, fmt, **look)

    def annotate(
        self,
        words: str,
        xy: tuple[float, float],
        xytext: tuple[float, float] = (0.0, 0.0),
        *,
        xycoords: str | tuple[str, str] = "data",
        textcoords: str = "offset points",
        **look: Any,
    ) -> Note:
        """Write words beside a place, `xytext` points away.

        Parameters
        ----------
        words : str
            One or several lines.
        xy : (float, float)
            The place, in `xycoords`.
        xytext : (float, float), pt
            From the place to the words, right and up.
        xycoords : str or (str, str)
            ``"data"`` or ``"axes fraction"``, or one of them a side.
        textcoords : str
            ``"offset points"`` alone.
        **look : dict
            Keywords as of general-purpose axes.
        """
        assert textcoords == "offset points"
        coords = (xycoords, xycoords) if isinstance(xycoords, str) else xycoords
        note = Note(words=words, at=xy, offset=xytext, coords=coords, look=look)
        self.notes.append(note)
        return note

    # frame -----------------------------------------------------------------------------------------------------------

    def set_title(self, title: str, **_: Any) -> None:
        """Say what the axes show.

        Parameters
        ----------
        title : str
            One line.
        """
        self.title = title

    def set_xlabel(self, words: str) -> None:
        """Say what runs from side to side.

        Parameters
        ----------
        words : str
            With the unit.
        """
        self.labels["x"] = words

    def set_ylabel(self, words: str) -> None:
        """Say what runs upwards.

        Parameters
        ----------
        words : str
            With the unit.
        """
        self.labels["y"] = words

    def get_xlabel(self) -> str:
        """Return what runs from side to side."""
        return self.labels["x"]

    def set_xlim(self, low: float, high: float) -> None:
        """Show this range from side to side.

        Parameters
        ----------
        low, high : float
            In the units of the axes.
        """
        self.limits["x"] = (float(low), float(high))

    def set_ylim(self, low: float, high: float) -> None:
        """Show this range upwards; downwards where `low` is the larger.

        Parameters
        ----------
        low, high : float
            In the units of the axes.
        """
        self.limits["y"] = (float(low), float(high))

    def get_xlim(self) -> tuple[float, float]:
        """Return the range from side to side."""
        return self.range_of("x")

    def set_xscale(self, _: str) -> None:
        """Make it logarithmic from side to side."""
        self.log["x"] = True

    def set_yscale(self, _: str) -> None:
        """Make it logarithmic upwards."""
        self.log["y"] = True
        # Counts begin at 0, which a logarithm has no place for: from 0.7 on a single one can be seen.
        self.limits["y"] = (0.7, self.limits["y"][1] * 1.5) if self.limits["y"] is not None else None

    def set_xticks(self, ticks: Sequence[float], words: Sequence[str] | None = None) -> None:
        """Put ticks there, with these words.

        Parameters
        ----------
        ticks : sequence of float
            In the units of the axes.
        words : sequence of str, optional
            One each; the numbers if not given.
        """
        self.ticks["x"] = (list(ticks), words)

    def set_yticks(self, ticks: Sequence[float], words: Sequence[str] | None = None) -> None:
        """Put ticks there, with these words.

        Parameters
        ----------
        ticks : sequence of float
            In the units of the axes.
        words : sequence of str, optional
            One each; the numbers if not given.
        """
        self.ticks["y"] = (list(ticks), words)
        self.tick_labels = [TickLabel(word) for word in words or ()]

    def get_yticklabels(self) -> list[TickLabel]:
        """Return what was put at the ticks upwards."""
        return self.tick_labels or []

    def locator_params(self, axis: str, nbins: int) -> None:
        """Put at most so many ticks on a side.

        Parameters
        ----------
        axis : {"x", "y"}
            The side.
        nbins : int
            How many at the most.
        """
        self.most_ticks[axis] = nbins

    def tick_params(self, axis: str = "both", *, length: float | None = None, pad: float | None = None,
                    labelbottom: bool | None = None) -> None:  # fmt: skip
        """Set how long ticks are, how far their words stand off, and whether there are any below.

        Parameters
        ----------
        axis : {"x", "y", "both"}
            The sides.
        length, pad : float, pt, optional
            How long ticks are, and from tick to words; as they were if not given.
        labelbottom : bool, optional
            Whether words stand below.
        """
        for side in ("x", "y") if axis == "both" else (axis,):
            self.tick_size_pt[side] = self.tick_size_pt[side] if length is None else length
            self.tick_pad_pt[side] = self.tick_pad_pt[side] if pad is None else pad
        self.labelled_below = self.labelled_below if labelbottom is None else labelbottom

    def grid(self, *, visible: bool, axis: str = "both") -> None:
        """Show or hide the lines at ticks.

        Parameters
        ----------
        visible : bool
            Whether they are shown.
        axis : {"x", "y", "both"}
            The sides.
        """
        for side in ("x", "y") if axis == "both" else (axis,):
            self.gridded[side] = visible

    def margins(self, *, x: float, y: float) -> None:
        """Leave that much room round the data.

        Parameters
        ----------
        x, y : float
            Shares of the data's span, at each end.
        """
        self.room = {"x": x, "y": y}

    def set_aspect(self, _: str) -> None:
        """Make a unit as long upwards as from side to side."""
        self.equal = True

    def set_anchor(self, _: str) -> None:
        """Axes of equal units stand at the left of their place."""

    def legend(self, *, loc: str = "best", handlelength: float = 2.0) -> None:
        """Explain labelled marks.

        Parameters
        ----------
        loc : str
            A corner such as ``"upper left"``, or ``"best"``: the emptiest.
        handlelength : float
            Length of a line in the key, in heights of its letters.
        """
        self.key_place, self.key_length = loc, handlelength

    # what the sheet asks for -----------------------------------------------------------------------------------------

    @property
    def labelled(self) -> list[Mark]:
        """Return the marks that the key explains."""
        return [mark for mark in self.marks if mark.label and not mark.label.startswith("_")]

    def range_of(self, side: str) -> tuple[float, float]:
        """Return the limits of a side: those that were set, else the data with room round them.

        Parameters
        ----------
        side : {"x", "y"}
            The side.
        """
        known = self.limits[side]
        if known is not None:
            return known
        parts = [getattr(mark, side) for mark in self.marks]
        parts += [mark.y_to for mark in self.marks if side == "y" and mark.y_to is not None]
        every = np.concatenate([np.zeros(0), *parts])
        every = every[np.isfinite(every) & ((every > 0) | (not self.log[side]))]
        if not every.size:
            return (0.1, 1.0) if self.log[side] else (0.0, 1.0)
        low, high = float(every.min()), float(every.max())
        if self.log[side]:
            room = (high / low) ** self.room[side] if high > low else 2.0
            return low / room, high * room
        room = self.room[side] * (high - low) or 0.05 * abs(high) or 0.05
        return low - room, high + room

    def ticks_of(self, side: str, n_most: int) -> tuple[list[float], list[str]]:
        """Return ticks of a side inside its limits, and what stands at them.

        Parameters
        ----------
        side : {"x", "y"}
            The side.
        n_most : int
            How many there is room for, where they were not set.
        """
        chosen = self.ticks[side]
        low, high = sorted(self.range_of(side))
        if chosen is not None:
            ticks, words = list(chosen[0]), chosen[1]
            return ticks, list(words) if words is not None else tick_words(ticks)
        n_most = min(n_most, self.most_ticks.get(side, n_most))
        ticks = log_ticks(low, high, n_most) if self.log[side] else linear_ticks(low, high, n_most)
        return ticks, tick_words(ticks, log=self.log[side])

    def widest_tick_pt(self, n_most: int) -> float:
        """Return how far the words at the ticks reach to the left.

        Parameters
        ----------
        n_most : int
            How many ticks there is room for upwards.
        """
        words = self.ticks_of("y", n_most)[1]
        return max((text_width_pt(word, TICK_SIZE_PT) for word in words), default=0.0) + self.tick_pad_pt["y"]


def _row(values: Any) -> FloatArray:
    return np.atleast_1d(np.asarray(values, dtype=np.float64))
