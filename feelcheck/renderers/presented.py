"""Results as documents, pandas tables and notebook displays: what the results' own methods call."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from feelcheck.model import (
    BenchResult,
    Capture,
    Comparison,
    FeelResult,
    HandResult,
    Provenance,
    Recording,
    RehearsalResult,
    RepeatabilityResult,
    Report,
    Results,
    SessionOnShelf,
    Stream,
    SurveyResult,
    Verification,
)
from feelcheck.model.parts import PartsResult
from feelcheck.model.quantities import DELAY
from feelcheck.model.why import Why
from feelcheck.renderers._format import format_object, name_of
from feelcheck.renderers._json import dump, encoded, picked
from feelcheck.renderers._rows import EstimateRow, estimate_rows
from feelcheck.renderers.bench_json import bench_document
from feelcheck.renderers.compare_json import compare_document, repeatability_document
from feelcheck.renderers.feel_json import feel_document
from feelcheck.renderers.hand_json import hand_document
from feelcheck.renderers.parts_text import parts_document
from feelcheck.renderers.rehearsal_json import rehearsal_document
from feelcheck.renderers.sessions_text import session_document
from feelcheck.renderers.survey_text import survey_document
from feelcheck.renderers.verify_text import verify_document
from feelcheck.renderers.why_text import why_document

if TYPE_CHECKING:
    import pandas as pd

    from feelcheck.renderers._panels import Picture

__all__ = ["document_of", "frame_of", "html_of"]


COLUMNS = ("part", "axis", "direction", "quantity", "value", "low", "high", "u", "unit", "n", "status", "remarks")


@dataclass(frozen=True, slots=True)
class _Kind:
    """How one kind of result shows itself: its document, its figures, and its table where that is a special one."""

    document: Callable[[Any], dict[str, Any]]
    title: Callable[[Any], str]
    pictures: Callable[[Any], dict[str, Picture]] = lambda _: {}
    frame: Callable[[Any], pd.DataFrame] | None = None


def document_of(result: Any) -> dict[str, Any]:
    """Return the JSON document of a result; of several the schema and a list under ``results``.

    Parameters
    ----------
    result : result of a command
        What the command gives.
    """
    if isinstance(result, Results):
        documents = [document_of(one) for one in result]
        return {"schema": documents[0]["schema"] if documents else "", "results": documents}
    return _kind(result).document(result)


def frame_of(result: Any) -> pd.DataFrame:
    """Return a result as a pandas table.

    Parameters
    ----------
    result : result of a command
        A recording becomes a wide table of codes, a comparison one row a metric, everything else one row an estimate;
        of several results the column ``result`` tells which one.
    """
    import pandas as pd

    if isinstance(result, Results):
        frames = [frame_of(one).assign(result=_kind(one).title(one)) for one in result]
        return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=[*COLUMNS, "result"])
    special = _kind(result).frame
    return _estimates_frame(document_of(result)) if special is None else special(result)


def html_of(result: Any) -> str:
    """Return a result as a notebook displays it: estimates with intervals, remarks, and the figures.

    Parameters
    ----------
    result : result of a command
        What the command gives.
    """
    from markupsafe import escape

    if isinstance(result, Results):
        return "\n".join(html_of(one) for one in result)
    kind = _kind(result)
    table = _shown_table(result).to_html(index=False, border=0, na_rep="")
    remarks = "".join(f"<li>{escape(text)}</li>" for text in _remarks(document_of(result)))
    listed = f"<ul>{remarks}</ul>" if remarks else ""
    return f"<div><h4>{escape(kind.title(result))}</h4>{table}{listed}{_drawn(result, kind)}</div>"


def _drawn(result: Any, kind: _Kind) -> str:
    from feelcheck.renderers._saving import svg_element

    name = "f" + hashlib.sha256(dump(document_of(result)).encode()).hexdigest()[:10]
    return "".join(
        f"<figure>{svg_element(picture.sheet, f'{name}-{key}', picture.title, picture.description)}</figure>"
        for key, picture in kind.pictures(result).items()
    )


def _remarks(document: dict[str, Any]) -> list[str]:
    said = [*document.get("caveats", ()), *(c for row in estimate_rows(document) for c in row.estimate["caveats"])]
    return list(dict.fromkeys(f"{caveat['text']} {caveat['advice']}".strip() for caveat in said))


def _shown_table(result: Any) -> pd.DataFrame:
    import pandas as pd

    if _kind(result).frame is not None:
        return frame_of(result).head(60)
    cells = [
        (row.part, row.axis, row.direction, row.quantity.replace("_", " "), format_object(row.estimate))
        for row in estimate_rows(document_of(result))
    ]
    table = pd.DataFrame(cells, columns=["part", "axis", "direction", "quantity", "value (95 % interval)"])
    return table.loc[:, [name for name in table.columns if (table[name] != "").any()]]


def _estimates_frame(document: dict[str, Any]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame([_cells(row) for row in estimate_rows(document)], columns=list(COLUMNS))


def _cells(row: EstimateRow) -> tuple[Any, ...]:
    e = row.estimate
    numbers = (float("nan") if e[key] is None else e[key] for key in ("value", "low", "high", "u"))
    remarks = " ".join(caveat["text"] for caveat in e["caveats"])
    return (row.part, row.axis, row.direction, row.quantity, *numbers, e["unit"], e["n"], e["status"], remarks)


def _comparison_frame(result: Comparison) -> pd.DataFrame:
    import pandas as pd

    rows = []
    for metric in compare_document(result)["metrics"]:
        sides = {f"{side}": metric[side]["value"] for side in ("baseline", "candidate", "difference")}
        ends = {"low": metric["difference"]["low"], "high": metric["difference"]["high"]}
        kept = ("margin", "verdict", "detected", "why")
        named = {key: metric[key] or "" for key in ("name", "axis", "direction", "state", "candidate_name")}
        rows.append({**named, **sides, **ends, "unit": metric["difference"]["unit"], **{k: metric[k] for k in kept}})
    return pd.DataFrame(rows)


def _shares_frame(result: RepeatabilityResult) -> pd.DataFrame:
    import pandas as pd

    rows = []
    for share in repeatability_document(result)["shares"]:
        sd = {key: share["sd"][key] for key in ("value", "low", "high", "unit", "status")}
        rows.append({"source": share["source"], **sd, "share_fraction": share["share_fraction"]})
    return pd.DataFrame(rows)


def _files_frame(result: Verification) -> pd.DataFrame:
    import pandas as pd

    kept = ("path", "kind", "specimen", "state", "found")
    return pd.DataFrame([{key: one[key] for key in kept} for one in verify_document(result)["files"]], columns=kept)


def _session_frame(result: SessionOnShelf) -> pd.DataFrame:
    import pandas as pd

    (listed,) = session_document(result)["sessions"]
    return pd.DataFrame([{key: cell for key, cell in listed.items() if not isinstance(cell, dict)}])


def _report_document(result: Report) -> dict[str, Any]:
    from feelcheck.renderers.report.page import report_document

    return report_document(result)


def _measured_frame(result: Report) -> pd.DataFrame:
    return frame_of(Results((*result.bench, *result.hand, *result.feel)))


def _front_pictures(result: Report) -> dict[str, Picture]:
    from feelcheck.renderers.report.front_picture import front_pictures
    from feelcheck.renderers.report.glance import glance_rows

    return dict(zip(("front",), front_pictures(glance_rows(result)), strict=False))


def _hand_pictures(result: HandResult) -> dict[str, Picture]:
    from feelcheck.renderers.hand_figures import hand_pictures

    return hand_pictures(result)


def _bench_pictures(result: BenchResult) -> dict[str, Picture]:
    from feelcheck.renderers.bench_figures import bench_pictures

    return bench_pictures(result)


def _compare_pictures(result: Comparison) -> dict[str, Picture]:
    from feelcheck.renderers.compare_figures import compare_pictures

    return compare_pictures(result)


def _feel_pictures(result: FeelResult) -> dict[str, Picture]:
    from feelcheck.renderers.feel_figures import feel_pictures

    return feel_pictures([result])


def _survey_pictures(result: SurveyResult) -> dict[str, Picture]:
    from feelcheck.renderers.survey_figures import population_picture

    drawn = [of for of in result.population.quantities if of.quantity == DELAY]
    return {str(k): population_picture(of) for k, of in enumerate(drawn)}


def _titled(word: str, provenance: Provenance) -> str:
    return f"{word}: {name_of(provenance, 'in memory')}{', simulated' if provenance.simulated else ''}"


_SOURCE = ("path", "format", "specimen", "state", "simulated", "complete", "sha256", "remarks", "facts")
RECORDING_SCHEMA = "feelcheck.recording/1"


def recording_document(recording: Recording) -> dict[str, Any]:
    """Return the JSON object of a recording.

    Parameters
    ----------
    recording : Recording
        The recording; its codes stay out.
    """
    return {
        "schema": RECORDING_SCHEMA,
        "source": picked(recording.provenance, *_SOURCE),
        "axes": {stream.name: _stream(stream) for stream in recording.streams},
        "sticks": encoded(recording.sticks),
        "buttons": sorted({event.name for event in recording.buttons}),
        "n_cues": len(recording.cues),
        "gaps": encoded(recording.gaps),
    }


def _stream(stream: Stream) -> dict[str, Any]:
    return {
        "n_codes": int(stream.codes.size),
        **picked(stream.time, "duration_s", "clock"),
        **picked(stream.scale, "unit", "centre", "reach"),
        "reports": stream.reports,
    }


CAPTURE_SCHEMA = "feelcheck.capture/1"


def capture_document(capture: Capture) -> dict[str, Any]:
    """Return the JSON object of a capture.

    Parameters
    ----------
    capture : Capture
        Its samples stay out: they are `Capture.to_frame`.
    """
    return {
        "schema": CAPTURE_SCHEMA,
        "source": picked(capture.provenance, *_SOURCE),
        "n_samples": int(capture.t_s.size),
        "sample_interval_s": capture.interval_s,
        "channels": {channel.name: picked(channel, "unit", "role") for channel in capture.channels},
        "understood": dict(capture.understood),
    }


KINDS: dict[type, _Kind] = {
    HandResult: _Kind(hand_document, lambda r: _titled("In the hand", r.recording.provenance), _hand_pictures),
    BenchResult: _Kind(bench_document, lambda r: _titled("On the bench", r.capture.provenance), _bench_pictures),
    PartsResult: _Kind(parts_document, lambda _: "From parts"),
    RehearsalResult: _Kind(rehearsal_document, lambda r: f"Rehearsal: {' against '.join(r.specimens)}"),
    FeelResult: _Kind(feel_document, lambda r: f"In use: {r.specimen}", _feel_pictures),
    Verification: _Kind(verify_document, lambda r: f"Verified: {r.title}", frame=_files_frame),
    Comparison: _Kind(
        compare_document,
        lambda r: f"{', '.join(r.candidates)} against {r.baseline}",
        _compare_pictures,
        _comparison_frame,
    ),
    RepeatabilityResult: _Kind(
        repeatability_document, lambda r: f"Repeatability of {r.metric.replace('_', ' ')}", frame=_shares_frame
    ),
    Why: _Kind(why_document, lambda r: f"Why {r.quantity.replace('_', ' ')}: {r.path}"),
    SurveyResult: _Kind(survey_document, lambda r: f"Survey: {r.table}", _survey_pictures, SurveyResult.to_frame),
    Report: _Kind(_report_document, lambda r: r.title, _front_pictures, _measured_frame),
    SessionOnShelf: _Kind(session_document, lambda r: f"Session: {r.folder.name}", frame=_session_frame),
    Capture: _Kind(capture_document, lambda r: _titled("Capture", r.provenance), frame=Capture.to_frame),
    Recording: _Kind(recording_document, lambda r: _titled("Recording", r.provenance), frame=Recording.to_frame),
}


def _kind(result: Any) -> _Kind:
    return KINDS[type(result)]
