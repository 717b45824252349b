"""The picture at the front of the page: every specimen's smoothing delay on one time axis, from parts to hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from feelcheck.model import Estimate, Status
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.renderers._format import format_brief, shown
from feelcheck.renderers._panels import Cell, Panel, Picture, Sheet, logarithmic, zoomed_limits
from feelcheck.renderers._style import INK, LIGHT, SOFT
from feelcheck.renderers.report.glance import Glance

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["TITLE", "front_pictures"]

TITLE = "Smoothing delay of every specimen: from its parts, on the bench, in the hand"
WIDE_IN, NARROW_IN = 8.7, 3.5
LANE_IN, FOOT_IN, KEYS_IN = 0.132, 0.55, 0.17
GAP_LANES, NAME_LANES = 1.15, 0.95
"""Room between two specimens, and how far above its first lane a specimen's name stands, clear of marks, in lanes."""
LEAST_DECADES = 8.0
"""From this ratio of the largest to the least on, the time axis is logarithmic."""
SOURCES = {"parts": LIGHT["third"], "bench": LIGHT["second"], "hand": LIGHT["first"]}
MARKS = {"rising": "^", "falling": "v"}
LIFT = {"rising": -0.2, "falling": 0.2}
DRAWN = (Status.OK, Status.AT_MOST, Status.AT_LEAST)

Lane = tuple[str, str, str, Mapping[str, Estimate]]


def front_pictures(rows: Sequence[Glance]) -> tuple[Picture, ...]:
    """Return the picture for wide pages and the same for narrow ones; nothing where no delay is known.

    Parameters
    ----------
    rows : sequence of Glance
        One a specimen and axis.
    """
    lanes = list(_lanes(rows))
    if not lanes:
        return ()
    words = "; ".join(_spoken(lane) for lane in lanes)
    return tuple(
        Picture(sheet=_sheet(lanes, width_in), title=TITLE, description=f"{TITLE}: {words}.")
        for width_in in (WIDE_IN, NARROW_IN)
    )


def _lanes(rows: Sequence[Glance]) -> Iterator[Lane]:
    """A lane for every specimen, axis and source that says anything."""
    for row in rows:
        for source in SOURCES:
            found = {d: e for d, e in getattr(row, source).items() if d in DIRECTIONS and e.status in DRAWN}
            if found:
                yield row.specimen, row.axis, source, found


def _spoken(lane: Lane) -> str:
    specimen, axis, source, found = lane
    return f"{specimen}, {axis}, {source}: " + ", ".join(f"{d} {format_brief(e)}" for d, e in found.items())


def _heights(lanes: Sequence[Lane]) -> list[float]:
    """Where each lane lies: specimens a little apart."""
    at, heights = 0.0, []
    for k, lane in enumerate(lanes):
        at += GAP_LANES if k and lane[0] != lanes[k - 1][0] else 0.0
        heights.append(at)
        at += 1.0
    return heights


def _sheet(lanes: Sequence[Lane], width_in: float) -> Sheet:
    heights = _heights(lanes)
    narrow = width_in < WIDE_IN

    def draw(ax: Axes) -> None:
        _scale(ax, lanes)
        for at, (_, _, source, found) in zip(heights, lanes, strict=True):
            for direction, estimate in found.items():
                _draw(ax, at + LIFT[direction], estimate, SOURCES[source], MARKS[direction])
        _label(ax, lanes, heights, narrow=narrow)

    return Sheet(
        cells=(Cell(panel=Panel(draw=draw, description=TITLE), row=0),),
        row_heights_in=(LANE_IN * (heights[-1] + 1.0) + FOOT_IN,),
        n_columns=1,
        width_in=width_in,
        head_in=KEYS_IN * (2 if narrow else 1),
        keys=_keys(),
    )


def _scale(ax: Axes, lanes: Sequence[Lane]) -> None:
    """Set the time axis; logarithmic where the delays span nearly a decade and none reaches down to zero."""
    views = [shown(estimate) for *_, found in lanes for estimate in found.values()]
    middles = [x for v in views if (x := v.value if v.value is not None else v.high or v.low) is not None]
    ends = [x for v in views for x in (v.low, v.value, v.high) if x is not None]
    if min(middles) > 0 and max(middles) > LEAST_DECADES * min(middles):
        ax.set_xlim(max(min(middles) / 2.0, min(ends) / 1.2), max(ends) * 1.2)
        logarithmic(ax, x=True)
    else:
        ax.set_xlim(*zoomed_limits(min(0.0, *ends), max(ends)))
    ax.set_xlabel("smoothing delay, ms")


def _draw(ax: Axes, y: float, estimate: Estimate, colour: str, marker: str) -> None:
    view, (left, right) = shown(estimate), ax.get_xlim()
    low, high = (left if view.low is None else max(view.low, left)), (right if view.high is None else view.high)
    style: dict[str, Any] = {"color": colour, "zorder": 3}
    if view.value is not None:
        ax.plot([low, high], [y, y], linewidth=1.5, **style)
        ax.plot([view.value], [y], marker=marker, markersize=4.2, linestyle="none", **style)
        return
    bound, edge = (high, "<") if view.high is not None else (low, ">")
    ax.plot([low, high], [y, y], linewidth=0.9, linestyle=(0, (1, 1.6)), **style)
    ax.plot([bound], [y], marker=marker, markersize=4.6, linestyle="none", fillstyle="none", **style)
    ends = [left if edge == "<" else right]
    ax.plot(ends, [y], marker=edge, markersize=4.0, linestyle="none", clip_on=False, **style)


def _label(ax: Axes, lanes: Sequence[Lane], heights: Sequence[float], *, narrow: bool) -> None:
    names = []
    for k, (specimen, axis, source, _) in enumerate(lanes):
        first_axis = k == 0 or lanes[k - 1][:2] != (specimen, axis)
        names.append(f"{axis}  {source}" if first_axis and not narrow else source)
        if k == 0 or lanes[k - 1][0] != specimen:
            above = ax.annotate(
                specimen, (0.0, heights[k] - NAME_LANES), (4, 0), xycoords=("axes fraction", "data"),
                textcoords="offset points", va="center", fontsize=8.0, fontweight="bold",
            )  # fmt: skip
            above.set_bbox({"facecolor": LIGHT["paper"], "edgecolor": "none", "pad": 0.8})
            ax.axhline(heights[k] - NAME_LANES, color=LIGHT["faint"], linewidth=0.6, zorder=0)
    if narrow:
        names = [f"{axis} {source}" for _, axis, source, _ in lanes]
    ax.set_yticks(heights, names)
    for label, lane in zip(ax.get_yticklabels(), lanes, strict=True):
        label.set_color(SOURCES[lane[2]])
    ax.set_ylim(heights[-1] + 0.7, -NAME_LANES - 0.3)
    ax.tick_params(axis="y", length=0)
    ax.grid(visible=False, axis="y")
    ax.grid(visible=True, axis="x")
    ax.spines["left"].set_visible(False)


def _keys() -> tuple[tuple[str, dict[str, Any]], ...]:
    """What marks mean: their shape the direction, their line the interval, an open mark a bound."""
    plain: dict[str, Any] = {"color": INK, "markersize": 4.6}
    return (
        ("code rising", {"marker": "^", "linestyle": "none", **plain}),
        ("falling", {"marker": "v", "linestyle": "none", **plain}),
        ("95 % interval", {"linewidth": 1.5, **plain}),
        ("only a bound", {"marker": "^", "linestyle": (0, (1, 1.6)), "fillstyle": "none", **plain, "color": SOFT}),
    )
