"""The text of `feelcheck bench`: the answer, each direction's response, what it suggests, how the file was read."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.model import BenchDirection, BenchResult, Estimate
from feelcheck.model.quantities import listed
from feelcheck.plain_text import told_apart
from feelcheck.renderers._format import format_estimate, model_words
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table, wrapped
from feelcheck.renderers.bench_answer import bench_answer

__all__ = ["bench_text"]


def bench_text(results: Sequence[BenchResult]) -> str:
    """Return the results in words and tables.

    Parameters
    ----------
    results : sequence of BenchResult
        The results.
    """
    files = told_apart([result.capture.provenance.path for result in results])
    return "\n\n".join(_one(result, file) for result, file in zip(results, files, strict=True))


def _one(result: BenchResult, file: str) -> str:
    remarks = Remarks()
    parts = [
        bench_answer(result, file),
        _responses(result, remarks),
        _drive(result, remarks),
        _rest(result, remarks),
        _explanation(result),
        *(_further(other, remarks) for other in result.outputs),
    ]
    remarks.marks(result.caveats)
    parts += [remarks.section(), _reading(result)]
    return "\n\n".join(part for part in parts if part)


def _reading(result: BenchResult) -> str:
    capture = result.capture
    interval = f", every {capture.interval_s * 1e6:.6g} us" if capture.interval_s else ""
    what = "readings" if capture.provenance.format == "readings" else "samples"
    lines = [
        "How the file was read",
        f"  {capture.provenance.path or 'capture'} ({capture.t_s.size} {what}{interval}"
        f"{', simulated' if capture.provenance.simulated else ''})",
    ]
    lines += [f"  {name}: {what}" for name, what in capture.understood.items()]
    lines += [f"  scope {name.replace('_', ' ')}: {what}" for name, what in capture.provenance.facts.items()]
    lines += [f"  reader: {remark}" for remark in capture.provenance.remarks]
    return "\n".join(lines)


def _drive(result: BenchResult, remarks: Remarks) -> str:
    if result.drive_kind == "told" and result.drive_transition is not None:
        told = format_estimate(result.drive_transition, interval=False)
        return f"Drive\n  none in the capture; its 10 to 90 % of {told} was told and is taken off"
    if result.drive_transition is None or result.drive_swing is None:
        return "Drive\n  none in the capture: edges are taken as steps"
    rows = [
        ("10 to 90 %", format_estimate(result.drive_transition), remarks.of(result.drive_transition)),
        ("swing", format_estimate(result.drive_swing), remarks.of(result.drive_swing)),
        ("looks like", result.drive_kind.replace("_", " "), ""),
    ]
    return f"Drive: {result.drive_name}\n" + text_table(("", "value", "remark"), rows)


def _responses(result: BenchResult, remarks: Remarks) -> str:
    present = result.sides.items()
    rows = []
    for quantity in listed("bench direction"):
        estimates: list[Estimate] = [getattr(side, quantity.name) for _, side in present]
        rows.append((quantity.words, *(format_estimate(e) for e in estimates), remarks.of(*estimates)))
    rows.append(("model", *(_model(side) for _, side in present), ""))
    rows.append(("edges", *(str(side.n_edges) for _, side in present), ""))
    header = ("", *(f"{word} ({result.output_name})" for word, _ in present), "remark")
    return "Response of the output (volts, 95 % intervals in brackets)\n" + text_table(header, rows)


def _further(result: BenchResult, remarks: Remarks) -> str:
    """A further output of the same capture."""
    parts = (_responses(result, remarks), _rest(result, remarks))
    return f"Further output: {result.output_name}\n\n" + "\n\n".join(parts)


def _model(side: BenchDirection) -> str:
    return model_words(side.model) + (", saturated" if side.saturated else "")


def _rest(result: BenchResult, remarks: Remarks) -> str:
    rows = [
        (words, format_estimate(estimate), remarks.of(estimate))
        for words, estimate in (
            *((quantity.words, getattr(result, quantity.name)) for quantity in listed("bench")),
            *((name.replace("_", " "), estimate) for name, estimate in result.extra.items()),
        )
    ]
    return "Beside the edges\n" + text_table(("", "value", "remark"), rows)


def _explanation(result: BenchResult) -> str:
    if not result.explanation:
        return ""
    sentences = (wrapped(sentence, first="  ") for sentence in result.explanation)
    return "What this suggests\n" + "\n".join(sentences)
