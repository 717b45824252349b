"""The text and JSON of `feelcheck feel`: kinematics first, then what is published, with its limits."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from feelcheck.model import EvidenceNote, FeelAxis, FeelResult
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._json import caveat_object, dump, estimate_object
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table

__all__ = ["FEEL_SCHEMA", "QUANTITY_WORDS", "STUDIES", "feel_document", "feel_json", "feel_text"]

FEEL_SCHEMA = "feelcheck.feel/1"
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
QUANTITY_WORDS = {
    "trailing_rising": "trails the thumb by, in a flick, code rising (of full throw)",
    "trailing_falling": "trails the thumb by, in a flick, code falling (of full throw)",
    "carry_on_after_release": "view turns on after letting go, code falling",
    "carry_on_opposite": "view turns on after letting go, code rising",
    "net_angle_per_flick": "one out-and-back flick pushes the view by, either way alike",
    "drift_per_pair": "a right flick and a left one together leave it turned by",
    "settle_after_release": "electronics are inside the rest band after",
    "carry_on_of_picture": "turning on, as a share of the picture's width",
    "drift_of_picture": "drift of a pair, as a share of the picture's width",
    "settling_in_hand": "at rest after letting go, spring and electronics as recorded",
    "tremor_band_gain": "keeps of the hand's 8 to 12 Hz motion",
    "ring_kept": "keeps of the spring's ringing",
    "sensor_noise_kept": "keeps of noise that is new in every report",
    "rest_noise": "noise at rest",
    "steady_speed_step_below": "one step changes the speed by over 7 % below a deflection of",
    "speed_ripple_below": "one step changes the speed by over 30 % below a deflection of",
}


def feel_text(results: Sequence[FeelResult]) -> str:
    """Return what the responses mean in use, cautions last."""
    cautions = dict.fromkeys(caution for result in results for caution in result.cautions)
    told = "Cautions\n" + "\n".join(f"  {caution}" for caution in cautions) if cautions else ""
    return "\n\n".join(filter(None, [*map(_one, results), told]))


def _one(result: FeelResult) -> str:
    remarks = Remarks()
    among = f"Among published results\n{_difference(result)}\n{_wrapped(STUDIES)}"
    parts = [
        _head(result),
        *(_axis(axis, remarks) for axis in result.axes),
        _notes(result.notes, among),
    ]
    remarks.marks(result.caveats)
    said = remarks.text()
    parts.append(f"Remarks\n{said}" if said else "")
    return "\n\n".join(part for part in parts if part)


def _head(result: FeelResult) -> str:
    play = result.play
    return (
        f"In use: {result.specimen}\n"
        f"  full throw turns the view at {play.turn_rate_deg_s:g} deg/s; "
        f"dead zone {100 * play.dead_zone_fraction:g} %, response curve exponent {play.curve_exponent:g}\n"
        f"  the picture shows {play.field_of_view_deg:g} deg across and fills {play.screen_deg:g} deg at the eye;\n"
        f"  a flick is held for {1e3 * play.held_s:g} ms; rest band {100 * play.rest_band_fraction:g} % of full throw"
    )


def _difference(result: FeelResult) -> str:
    if result.difference is None:
        return ""
    size = format_brief(result.difference)
    return f"  largest difference of delay to the first specimen: {size}, {result.difference_at}"


def _axis(axis: FeelAxis, remarks: Remarks) -> str:
    rows = [
        (QUANTITY_WORDS.get(name, name.replace("_", " ")), format_brief(estimate), remarks.of(estimate))
        for name, estimate in axis.estimates.items()
    ]
    plane = PLANE_WORDS[axis.plane]
    where = ORIGIN_WORDS[axis.origin]
    mark = remarks.marks(axis.caveats)
    title = f"{axis.axis}{f' ({plane})' if plane else ''}, {axis.state.replace('_', ' ')}, {where} {mark}".rstrip()
    text = f"{title}\n{text_table(('', 'value', 'remark'), rows)}"
    return "\n".join(filter(None, [text, _notes(axis.notes, "")]))


def _notes(notes: Sequence[EvidenceNote], title: str) -> str:
    lines = [title] if title and notes else []
    for note in notes:
        mark = " [outside what was tested]" if note.extrapolated else ""
        lines.append(_wrapped(f"{note.text}{mark} Varied: {note.varied}. {note.citation}."))
    return "\n".join(lines)


def _wrapped(text: str) -> str:
    return textwrap.fill(text, width=110, initial_indent="  ", subsequent_indent="    ")


def feel_json(results: Sequence[FeelResult]) -> str:
    """Return one JSON document; a list under ``results`` for several specimens."""
    documents = [feel_document(result) for result in results]
    return dump(documents[0] if len(documents) == 1 else {"schema": FEEL_SCHEMA, "results": documents})


def feel_document(result: FeelResult) -> dict[str, Any]:
    """Return the JSON object of one specimen."""
    play = result.play
    return {
        "schema": FEEL_SCHEMA,
        "specimen": result.specimen,
        "play": {name: getattr(play, name) for name in play.__dataclass_fields__},
        "axes": [
            {
                "axis": axis.axis,
                "state": axis.state,
                "origin": axis.origin,
                "plane": axis.plane,
                "estimates": {name: estimate_object(estimate) for name, estimate in axis.estimates.items()},
                "notes": [_note(note) for note in axis.notes],
                "caveats": [caveat_object(caveat) for caveat in axis.caveats],
            }
            for axis in result.axes
        ],
        "difference": None if result.difference is None else estimate_object(result.difference),
        "difference_at": result.difference_at,
        "notes": [_note(note) for note in result.notes],
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
        "cautions": list(result.cautions),
    }


def _note(note: EvidenceNote) -> dict[str, Any]:
    return {name: getattr(note, name) for name in note.__dataclass_fields__}
