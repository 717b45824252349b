"""The page's tables as rows of cells."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from feelcheck.model import BenchResult, ChainLink, Comparison, Estimate, FeelResult, HandResult, Report, Status
from feelcheck.model.quantities import DIRECTIONS, Quantity, listed, words_of
from feelcheck.plain_text import harmless, table_cell
from feelcheck.renderers._added import ADDED_HEADER, added_rows
from feelcheck.renderers._format import format_brief, format_difference, format_plain, model_words, name_of, shown
from feelcheck.renderers.compare_text import AGREEMENT_WORDS
from feelcheck.renderers.report.glance import Glance, label_of

__all__ = [
    "Cell",
    "Table",
    "added_table",
    "bench_table",
    "chain_table",
    "comparison_table",
    "cross_axis_table",
    "evidence_rows",
    "feel_table",
    "glance_table",
    "hand_table",
    "lattice_table",
    "plain_table",
    "provenance_table",
    "table_csv",
]

ON_BENCH = ("time_constant", "transition_10_90", "smoothing_delay", "mean_delay")
NOT_ASKED = "no straight flicks"
NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell: what it says, and the number it is sorted by (None: by its words)."""

    text: str
    sort: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with its caption; rows may be empty, then the page leaves it out. Footnotes are counted from 1."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    footnotes: tuple[str, ...] = ()


def _number(estimate: Estimate, *, interval: bool = True, n_digits: int = 4) -> Cell:
    view = shown(estimate)
    text = format_brief(estimate, n_digits=n_digits, interval=interval)
    return Cell(text=text, sort=next((x for x in (view.value, view.high, view.low) if x is not None), None))


def plain_table(caption: str, header: tuple[str, ...], rows: Sequence[tuple[Cell | str, ...]]) -> Table:
    """Return a table; words become cells that sort as words.

    Parameters
    ----------
    caption : str
        What the table is of.
    header : tuple of str
        Titles of the columns.
    rows : sequence of tuple
        Cells, or words, of each row.
    """
    cells = tuple(tuple(c if isinstance(c, Cell) else Cell(text=c) for c in row) for row in rows)
    return Table(caption=caption, header=header, rows=cells)


def table_csv(table: Table) -> str:
    """Return a table as comma-separated text, footnotes as comments behind it.

    Parameters
    ----------
    table : Table
        A table of the page.
    """
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow([table_cell(name) for name in table.header])
    writer.writerows([table_cell(cell.text) for cell in row] for row in table.rows)
    return lines.getvalue() + "".join(f"# {k}: {harmless(note)}\n" for k, note in enumerate(table.footnotes, start=1))


def chain_table(specimen: str, links: tuple[ChainLink, ...]) -> Table:
    """Return the chain of one specimen.

    Parameters
    ----------
    specimen : str
        What the specimen is called.
    links : tuple of ChainLink
        Links of the chain.
    """
    rows: list[tuple[Cell | str, ...]] = [
        (
            link.axis,
            link.state.replace("_", " "),
            link.direction,
            link.link.replace("-", " to "),
            _number(link.predicted),
            _number(link.measured),
            _number(link.difference),
            AGREEMENT_WORDS[link.verdict],
        )
        for link in links
        if link.specimen == specimen
    ]
    header = ("axis", "state", "direction", "link", "predicted", "measured", "difference", "verdict")
    return plain_table(f"Smoothing delay of {specimen} along the chain, 95 % intervals in brackets", header, rows)


def bench_table(results: tuple[BenchResult, ...]) -> Table:
    """Return what captures told, a row each direction.

    Parameters
    ----------
    results : tuple of BenchResult
        Results, one a recording, capture or specimen.
    """
    of_bench = [quantity for quantity in listed("bench direction") if quantity.name in ON_BENCH]
    rows: list[tuple[Cell | str, ...]] = []
    for result in results:
        provenance = result.capture.provenance
        for word, side in result.sides.items():
            name = name_of(provenance, "capture")
            cells = _cells(side, of_bench)
            ratio = _number(result.asymmetry) if word == "falling" else ""
            rows.append((name, result.output_name, word, *cells, model_words(side.model), ratio))
    named = (quantity.brief for quantity in of_bench)
    header = ("capture", "output", "direction", *named, "model", "falling over rising")
    return plain_table("Response on the bench, 95 % intervals in brackets", header, rows)


def hand_table(results: tuple[HandResult, ...]) -> Table:
    """Return what recordings told, a row each axis and direction.

    Parameters
    ----------
    results : tuple of HandResult
        Results, one a recording, capture or specimen.
    """
    of_hand = listed("hand direction")[:3]
    rows: list[tuple[Cell | str, ...]] = []
    for result in results:
        for axis in result.axes.values():
            for word, response in axis.sides.items():
                if not _any_told(getattr(response, quantity.name) for quantity in of_hand):
                    continue
                cells = (*_cells(response, of_hand), Cell(text=model_words(response.model)))
                ratio = _number(axis.asymmetry) if word == "falling" else ""
                rows.append((_name(result), axis.name, word, *cells, ratio))
    header = ("recording", "axis", "code", *(of.words for of in of_hand), "model", "falling over rising")
    return plain_table("Response in the hand, 95 % intervals in brackets", header, rows)


def _cells(record: object, quantities: Iterable[Quantity], *, interval: bool = True) -> tuple[Cell, ...]:
    return tuple(_number(getattr(record, quantity.name), interval=interval) for quantity in quantities)


def _any_told(estimates: Iterable[Estimate]) -> bool:
    return any(estimate.status is not Status.NOT_RESOLVED for estimate in estimates)


def _name(result: HandResult) -> str:
    provenance = result.recording.provenance
    return name_of(provenance, "recording")


def lattice_table(results: tuple[HandResult, ...]) -> Table:
    """Return steps, noise and rest of every axis.

    Parameters
    ----------
    results : tuple of HandResult
        Results, one a recording, capture or specimen.
    """
    of_codes = [quantity for quantity in listed("hand axis") if quantity.unit != "ratio"]
    rows: list[tuple[Cell | str, ...]] = [
        (_name(result), axis.name, *_cells(axis, of_codes, interval=False))
        for result in results
        for axis in result.axes.values()
        if _any_told(getattr(axis, quantity.name) for quantity in of_codes)
    ]
    header = ("recording", "axis", *(quantity.words for quantity in of_codes))
    return plain_table("Codes and rest", header, rows)


def cross_axis_table(results: tuple[HandResult, ...]) -> Table:
    """Return how much each axis shows in the other, and how far directions are off round the rim.

    Parameters
    ----------
    results : tuple of HandResult
        Results, one a recording, capture or specimen.
    """
    of_both = listed("hand cross axis")
    rows: list[tuple[Cell | str, ...]] = []
    for result in results:
        for axis in result.axes.values():
            found = [axis.extra.get(quantity.name) for quantity in of_both]
            if _any_told(e for e in found if e is not None):
                rows.append((_name(result), axis.name, *(NOT_ASKED if e is None else _number(e) for e in found)))
    header = ("recording", "axis", *(quantity.words for quantity in of_both))
    return plain_table("Cross-axis response and direction error", header, rows)


def added_table(results: tuple[HandResult, ...]) -> Table:
    """Return what metrics of other packages found.

    Parameters
    ----------
    results : tuple of HandResult
        Results, one a recording, capture or specimen.
    """
    rows = [(_name(result), *row) for result in results for row in added_rows(result)]
    return plain_table("From other packages", ("recording", *ADDED_HEADER), rows)


def comparison_table(comparison: Comparison) -> Table:
    """Return every compared metric with its verdict; reasons are footnotes.

    Parameters
    ----------
    comparison : Comparison
        The comparison.
    """
    reasons = list(dict.fromkeys(row.why for row in comparison.metrics if row.why))
    rows: list[tuple[Cell | str, ...]] = [
        (
            row.candidate_name,
            words_of(row.name, "compare", "bench"),
            row.axis,
            row.direction,
            _number(row.baseline),
            _number(row.candidate),
            Cell(text=format_difference(row.difference, row.margin), sort=_number(row.difference).sort),
            Cell(text=format_plain(row.margin, row.difference.unit), sort=row.margin),
            row.verdict,
            f"see {reasons.index(row.why) + 1}" if row.why else "",
        )
        for row in comparison.metrics
    ]
    header = ("specimen", "metric", "axis", "code", "baseline", "specimen's", "difference", "margin", "verdict", "why")
    table = plain_table(f"Against {comparison.baseline}, 95 % intervals in brackets", header, rows)
    return replace(table, footnotes=tuple(reasons))


def feel_table(results: tuple[FeelResult, ...]) -> Table:
    """Return the meaning in use: a row for every quantity of an axis, a column for every specimen.

    Parameters
    ----------
    results : tuple of FeelResult
        Results, one a recording, capture or specimen.
    """
    found = {(result.specimen, axis.axis): axis.estimates for result in results for axis in result.axes}
    specimens = list(dict.fromkeys(specimen for specimen, _ in found))
    rows: list[tuple[Cell | str, ...]] = []
    for axis in dict.fromkeys(axis for _, axis in found):
        columns = [found.get((specimen, axis), {}) for specimen in specimens]
        for name in dict.fromkeys(name for column in columns for name in column):
            cells = [_number(column[name]) if name in column else NOT_KNOWN for column in columns]
            rows.append((axis, words_of(name, "feel"), *cells))
    return plain_table("Meaning in use, 95 % intervals in brackets", ("axis", "what", *specimens), rows)


def glance_table(rows: Sequence[Glance], turn_rate_deg_s: float | None) -> Table:
    """Return a row for every axis of every specimen: delay on the bench and in the hand, and what it turns into.

    Parameters
    ----------
    rows : sequence of Glance
        Rows of the page's overview.
    turn_rate_deg_s : float or None, deg/s
        Turn rate of the view at full throw; None where it was not asked for.
    """
    lines: list[tuple[Cell | str, ...]] = []
    for row in rows:
        used = {} if row.used is None else row.used.estimates
        delays = [side.get(direction) for side in (row.bench, row.hand) for direction in DIRECTIONS]
        turned = [used.get(name) for name in ("carry_on_after_release", "drift_per_pair")]
        cells = (NOT_KNOWN if e is None else _number(e, n_digits=3) for e in (*delays, *turned))
        origin = NOT_KNOWN if row.used is None else row.used.origin
        lines.append((row.specimen, row.axis, *cells, origin))
    header = (
        "specimen", "axis", "bench, rising", "bench, falling", "hand, code rising", "hand, code falling",
        "view turns on after letting go", "a pair of flicks leaves it turned by", "angles from",
    )  # fmt: skip
    kept = [k for k in range(len(header)) if any(line[k] != NOT_KNOWN for line in lines)]
    rate = f"; angles at {turn_rate_deg_s:g} deg/s" if turn_rate_deg_s is not None else ""
    return plain_table(
        f"Smoothing delay (how far the output trails){rate}; brackets: 95 % intervals",
        tuple(header[k] for k in kept),
        [tuple(line[k] for k in kept) for line in lines],
    )


def evidence_rows(results: tuple[FeelResult, ...]) -> Table:
    """Return the published results beside the specimens that they were set beside, each said once.

    Parameters
    ----------
    results : tuple of FeelResult
        Results, one a recording, capture or specimen.
    """
    found: dict[tuple[str, ...], list[str]] = {}
    for result in results:
        for note in (*result.notes, *(note for axis in result.axes for note in axis.notes)):
            text = note.text.removesuffix(f" ({note.device}).") + "." * note.text.endswith(f" ({note.device}).")
            mark = "outside" if note.extrapolated else "inside"
            found.setdefault((text, mark, note.device, note.varied, note.citation), []).append(result.specimen)
    rows = [(", ".join(dict.fromkeys(names)), *said) for said, names in found.items()]
    header = ("specimens", "what was published", "our case and what was tested", "device", "varied", "source")
    return plain_table("Among published results", header, rows)


def provenance_table(report: Report) -> Table:
    """Return where everything came from: files with their hashes, then what the caller adds.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    sources = [("recording", r.recording.provenance) for r in report.hand]
    sources += [("capture", r.capture.provenance) for r in report.bench]
    rows: list[tuple[Cell | str, ...]] = [
        (
            f"{kind} of {label_of(p, kind)}" if p.specimen else kind,
            PurePath(p.path).name or "in memory",
            p.sha256 or "no hash",
            "simulated" if p.simulated else "",
        )
        for kind, p in sources
    ]
    rows += [(f"record of {p.specimen}", PurePath(p.path).name or "in memory", "", "") for p in report.profiles]
    rows += [(name, value, "", "") for name, value in report.provenance.items()]
    return plain_table("Where it came from", ("what", "which", "SHA-256", "remark"), rows)
