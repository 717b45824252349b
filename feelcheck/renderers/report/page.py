"""The self-contained page of `feelcheck report`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import Any

from markupsafe import Markup

from feelcheck.model import Comparison, Report
from feelcheck.renderers._json import dump
from feelcheck.renderers._panels import Picture
from feelcheck.renderers._saving import svg_element
from feelcheck.renderers._style import DARK, LIGHT
from feelcheck.renderers.bench_figures import bench_pictures
from feelcheck.renderers.bench_json import bench_document
from feelcheck.renderers.compare_figures import compare_pictures
from feelcheck.renderers.compare_json import compare_document
from feelcheck.renderers.feel_figures import feel_pictures
from feelcheck.renderers.feel_text import feel_document
from feelcheck.renderers.hand_figures import hand_pictures
from feelcheck.renderers.hand_json import hand_document
from feelcheck.renderers.rehearsal_json import rehearsal_record_object
from feelcheck.renderers.report import records, remarks, tables, trials
from feelcheck.renderers.report.environment import page_environment
from feelcheck.renderers.report.glance import glance_rows
from feelcheck.renderers.report.summary import NOTHING, simulated_sentence, summary_sentences, summary_topics
from feelcheck.renderers.report.words import CAUTIONS, METHODS

__all__ = ["REPORT_SCHEMA", "report_document", "report_html", "report_tables"]

Item = Picture | tables.Table
REPORT_SCHEMA = "feelcheck.report/1"


def report_html(report: Report, *, mark: str = "", voucher: str = "") -> str:
    """Return one self-contained page; nothing is fetched when it is opened.

    Parameters
    ----------
    report : Report
        Everything the page shows.
    mark, voucher : str
        The words by which the page is known again, and those by which it vouches for tables beside it.

    Notes
    -----
    Every string of the user's passes the template's escaping; figures are inline SVG with text alternatives; the JSON
    of all results is embedded.
    """
    return (
        page_environment()
        .get_template("page.html")
        .render(
            title=report.title,
            mark=mark,
            voucher=voucher,
            light=LIGHT,
            dark=DARK,
            simulated=simulated_sentence(report),
            glance=tables.glance_table(glance_rows(report), _turn_rate(report)),
            summary=summary_topics(report),
            nothing=NOTHING,
            sections=_sections(report),
            cautions=CAUTIONS,
            methods=METHODS,
            provenance=tables.provenance_table(report),
            document=_script_safe(dump(report_document(report))),
        )
    )


def report_document(report: Report) -> dict[str, Any]:
    """Return the JSON object that the page embeds."""
    return {
        "schema": REPORT_SCHEMA,
        "title": report.title,
        "specimens": [profile.specimen for profile in report.profiles],
        "summary": summary_sentences(report),
        "bench": [bench_document(result) for result in report.bench],
        "hand": [hand_document(result) for result in report.hand],
        "comparison": None if report.comparison is None else compare_document(report.comparison),
        "feel": [feel_document(result) for result in report.feel],
        "rehearsals": [rehearsal_record_object(one) for profile in report.profiles for one in profile.rehearsals],
        "provenance": dict(report.provenance),
    }


def report_tables(report: Report) -> dict[str, str]:
    """Return the page's main tables as comma-separated text by name: ``at_a_glance``, ``comparison``, ``in_use``.

    Notes
    -----
    Cells read as on the page, with units and intervals; the numbers alone are in the JSON of `report_document`.
    """
    shown = {
        "at_a_glance": tables.glance_table(glance_rows(report), _turn_rate(report)),
        "comparison": None if report.comparison is None else tables.comparison_table(report.comparison),
        "in_use": tables.feel_table(report.feel),
    }
    return {name: tables.table_csv(table) for name, table in shown.items() if table is not None and table.rows}


def _turn_rate(report: Report) -> float | None:
    return report.feel[0].play.turn_rate_deg_s if report.feel else None


def _script_safe(text: str) -> Markup:
    """Return JSON that cannot end the script element it stands in."""
    return Markup(text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))


def _sections(report: Report) -> list[dict[str, Any]]:
    hand = [hand_pictures(result) for result in report.hand]
    nothing = Comparison(baseline="", candidates=(), metrics=(), chain=report.chain)
    compared = compare_pictures(report.comparison or nothing)
    drawn = [picture for name, picture in compared.items() if not name.startswith("chain")]
    verdicts = [] if report.comparison is None else [tables.comparison_table(report.comparison)]
    bench = [picture for result in report.bench for picture in bench_pictures(result).values()]
    told = [tables.feel_table(report.feel), tables.evidence_rows(report.feel)]
    use: list[Item] = [*feel_pictures(report.feel).values(), *told]
    said = remarks.by_section(report)
    return [
        _section("record", "The specimens and their parts", [table(report.profiles) for table in records.TABLES]),
        _section("chain", "The chain, specimen by specimen", _chain(report, compared)),
        _section("bench", "On the bench", [*bench, tables.bench_table(report.bench)], said["bench"]),
        _section("hand", "In the hand: flicks and release",
                 [*_picked(hand, "flicks", "release"), tables.hand_table(report.hand)], said["hand"]),
        _section("lattice", "Levels, reports and rest",
                 [*_picked(hand, "codes", "rest"), tables.lattice_table(report.hand)]),
        _section("cross-axis", "Cross-axis response and direction round the rim",
                 [tables.cross_axis_table(report.hand)]),
        _section("comparison", "Comparison against the margin", [*drawn, *verdicts], said["comparison"]),
        _section("use", "Meaning in use", use, said["use"]),
        *_rehearsed(report),
    ]  # fmt: skip


def _rehearsed(report: Report) -> list[dict[str, Any]]:
    """The section on rehearsals, only where there was one: nobody misses it else."""
    told = trials.rehearsals_table(report.profiles)
    if not told.rows:
        return []
    said = [sentence for sentence in [trials.threshold_sentence(report)] if sentence]
    return [_section("rehearsed", "Rehearsed: what was told apart", [told, trials.beside_table(report)], said)]


def _picked(found: list[dict[str, Picture]], *names: str) -> list[Picture]:
    return [pictures[name] for pictures in found for name in names if name in pictures]


def _chain(report: Report, drawn: Mapping[str, Picture]) -> list[Item]:
    """Each specimen's picture before its table."""
    pictures = [picture for name, picture in drawn.items() if name.startswith("chain")]
    shown = [tables.chain_table(specimen, report.links) for specimen in dict.fromkeys(k.specimen for k in report.links)]
    return [item for pair in zip_longest(pictures, shown) for item in pair if item is not None]


def _section(name: str, title: str, items: Sequence[Item], said: Sequence[str] = ()) -> dict[str, Any]:
    """One section: pictures and tables in order, empty tables left out, then remarks."""
    shown: list[dict[str, Any]] = []
    for k, item in enumerate(items):
        if isinstance(item, Picture):
            svg = Markup(svg_element(item.figure, f"{name}-{k}", item.title, item.description))
            shown.append({"table": None, "svg": svg, "title": item.title})
        elif item.rows:
            shown.append({"table": item})
    return {"id": name, "title": title, "items": shown, "remarks": list(said)}
