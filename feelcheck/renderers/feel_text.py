"""The text of `feelcheck feel`: what it comes to, specimens in columns, what is published, cautions last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from feelcheck.model import Estimate, EvidenceNote, FeelAxis, FeelResult, Play, Status
from feelcheck.model.quantities import listed
from feelcheck.numerics.uncertainty import coverage_interval, difference_of
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table, wrapped

__all__ = ["STUDIES", "feel_text"]

STUDIES = (
    "These studies delayed a picture; none smoothed a stick that sets a speed. Thresholds differ several-fold between "
    "people, so only a blind trial of your own settles it."
)
ORIGIN_WORDS = {
    "hand": "response as recorded in the hand",
    "bench": "response as measured on the bench",
    "parts": "response as predicted from the parts",
}
PLANE_WORDS = {"left_right": "left and right", "up_down": "up and down", "unknown": ""}
USUAL = tuple(quantity.name for quantity in listed("feel")[:8])
"""What is shown unless everything is asked for."""
KEY = (
    "trails the thumb: share of full throw in a flick. turns on: after letting go. pushed, left: where the view stands "
    "after one flick out and back, after one each way. --full shows noise, tremor and speed steps, and what each means."
)
WITHIN = "not told apart"


def feel_text(results: Sequence[FeelResult], *, full: bool = False) -> str:
    """Return what the responses mean in use.

    Parameters
    ----------
    results : sequence of FeelResult
        The first is what the others are set beside.
    full : bool
        Everything that was worked out, with every quantity in a sentence.
    """
    remarks = Remarks()
    cautions = dict.fromkeys(caution for result in results for caution in result.cautions)
    tables = [table for second in results[1:] for table in _beside(results[0], second, remarks, full=full)]
    if len(results) == 1:
        tables = [_table((axis,), results, remarks, full=full) for axis in results[0].axes]
    farthest = max(results, key=lambda result: abs((result.difference and result.difference.value) or 0.0))
    # A list times a truth value is there or is not.
    notes = [_published(result) for result in (results if full else (farthest,))] + [_tremor(results)] * full
    for result in results:
        remarks.marks(result.caveats)
    parts = [
        _answer(results),
        *tables,
        "" if full else _wrapped(KEY),
        *notes,
        remarks.section(),
        _worked_out(results[0].play),
        "Cautions\n" + "\n".join(f"  {caution}" for caution in cautions) if cautions else "",
    ]
    return "\n\n".join(part for part in parts if part)


def _answer(results: Sequence[FeelResult]) -> str:
    """What a colleague would say: how far each trails, and where the others differ from the first."""
    return "\n".join(wrapped(line) for line in _answers(results))


def _answers(results: Sequence[FeelResult]) -> Iterator[str]:
    rate = f"{results[0].play.turn_rate_deg_s:g} deg/s"
    for result in results:
        told = [_worst(result, ("trailing_rising", "trailing_falling"), "in a flick the output trails the thumb by"),
                _worst(result, ("carry_on_after_release", "carry_on_opposite"),
                       f"at {rate} the view turns on after letting go by")]  # fmt: skip
        known = [words for words in told if words]
        yield f"{result.specimen}: {'; '.join(known) if known else 'what it means in use cannot be told'}."
    for result in results[1:]:
        if result.difference is not None:
            yield (
                f"{result.specimen} against {results[0].specimen}: the largest difference of delay is "
                f"{format_brief(result.difference)}, on {result.difference_at}."
            )


def _worst(result: FeelResult, names: Sequence[str], words: str) -> str:
    found = [
        (estimate, axis.axis, name)
        for axis in result.axes
        for name in names
        if (estimate := axis.estimates.get(name)) is not None and estimate.value is not None
    ]
    if not found:
        return ""
    estimate, axis, name = max(found, key=lambda one: abs(one[0].value or 0.0))
    rising = name in ("trailing_rising", "carry_on_opposite")
    of = " of full throw" if name.startswith("trailing") else ""
    return f"{words} {format_brief(estimate)}{of} ({axis}, code {'rising' if rising else 'falling'})"


def _beside(first: FeelResult, second: FeelResult, remarks: Remarks, *, full: bool) -> Iterator[str]:
    """Tables of two specimens: the axes that both have in columns, the others alone."""
    known = {axis.axis: axis for axis in second.axes}
    for axis in first.axes:
        if axis.axis in known:
            yield _table((axis, known.pop(axis.axis)), (first, second), remarks, full=full)
        else:
            yield _table((axis,), (first,), remarks, full=full)
    for axis in known.values():
        yield _table((axis,), (second,), remarks, full=full)


def _table(axes: Sequence[FeelAxis], of: Sequence[FeelResult], remarks: Remarks, *, full: bool) -> str:
    names = dict.fromkeys(name for axis in axes for name in axis.estimates)
    words = {quantity.name: quantity.words if full else quantity.brief for quantity in listed("feel")}
    rows = []
    for name in names:
        cells = [axis.estimates.get(name) for axis in axes]
        told = [cell for cell in cells if cell is not None]
        if not full and (name not in USUAL or all(cell.status is Status.NOT_RESOLVED for cell in told)):
            continue
        shown = ["" if cell is None else format_brief(cell) for cell in cells]
        rows.append((words.get(name, name.replace("_", " ")), *shown, _change(cells), remarks.of(*told)))
    header = ("", *(result.specimen for result in of), "what changes", "remark")
    return f"{_title(axes, of, remarks)}\n{text_table(header, rows)}"


def _title(axes: Sequence[FeelAxis], of: Sequence[FeelResult], remarks: Remarks) -> str:
    """The axis, and where its responses come from, each said once."""
    plane = PLANE_WORDS[axes[0].plane]
    origins = [f"{ORIGIN_WORDS[axis.origin]} {remarks.marks(axis.caveats)}".rstrip() for axis in axes]
    if len(set(origins)) > 1:
        origins = [f"{result.specimen} {origin}" for result, origin in zip(of, origins, strict=True)]
    return f"{axes[0].axis}{f' ({plane})' if plane else ''}: {'; '.join(dict.fromkeys(origins))}"


def _change(cells: Sequence[Estimate | None]) -> str:
    """The second less the first, where the interval leaves zero out."""
    if len(cells) != 2 or cells[0] is None or cells[1] is None or cells[0].unit != cells[1].unit:
        return ""
    change = difference_of(cells[1], cells[0], quantity="change")
    low, high = coverage_interval(change)
    if change.value is None or low is None or high is None:
        return ""
    if low <= 0 <= high:
        return WITHIN
    return ("+" if change.value > 0 else "") + format_brief(change)


def _published(result: FeelResult) -> str:
    return _notes(result.notes, f"Among published results, {result.specimen}\n{_wrapped(STUDIES)}")


def _tremor(results: Sequence[FeelResult]) -> str:
    """What is published beside an axis' own numbers, once."""
    notes = dict.fromkeys(note for result in results for axis in result.axes for note in axis.notes)
    return _notes([*notes], "Beside these numbers")


def _notes(notes: Sequence[EvidenceNote], title: str) -> str:
    lines = [title] if title and notes else []
    for note in notes:
        mark = " [outside what was tested]" if note.extrapolated else ""
        lines.append(_wrapped(f"{note.text}{mark} Varied: {note.varied}. {note.citation}."))
    return "\n".join(lines)


def _wrapped(text: str) -> str:
    return wrapped(text, first="  ", rest="    ")


def _worked_out(play: Play) -> str:
    return "Worked out for\n" + _wrapped(
        f"full throw turns the view at {play.turn_rate_deg_s:g} deg/s; dead zone {100 * play.dead_zone_fraction:g} %, "
        f"response curve exponent {play.curve_exponent:g}; the picture shows {play.field_of_view_deg:g} deg across and "
        f"fills {play.screen_deg:g} deg at the eye; a flick is held for {1e3 * play.held_s:g} ms; rest band "
        f"{100 * play.rest_band_fraction:g} % of full throw."
    )
