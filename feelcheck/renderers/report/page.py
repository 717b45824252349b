"""The self-contained page of `feelcheck report`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from typing import Any

from markupsafe import Markup

from feelcheck.model import Report
from feelcheck.model.labels import base_of
from feelcheck.renderers._json import dump
from feelcheck.renderers._panels import Picture
from feelcheck.renderers._saving import svg_element
from feelcheck.renderers._style import DARK, LIGHT
from feelcheck.renderers.bench_figures import bench_pictures
from feelcheck.renderers.bench_json import bench_document
from feelcheck.renderers.compare_figures import compare_pictures
from feelcheck.renderers.compare_json import compare_document
from feelcheck.renderers.feel_figures import feel_pictures
from feelcheck.renderers.feel_json import feel_document
from feelcheck.renderers.hand_figures import hand_pictures
from feelcheck.renderers.hand_json import hand_document
from feelcheck.renderers.rehearsal_json import rehearsal_record_object
from feelcheck.renderers.report import records, remarks, tables, trials
from feelcheck.renderers.report.environment import page_environment, page_items
from feelcheck.renderers.report.front import headlines, next_steps, specimens_of, verdict_table
from feelcheck.renderers.report.front_picture import front_pictures
from feelcheck.renderers.report.glance import bench_by_label, by_name, glance_rows, hand_by_label
from feelcheck.renderers.report.summary import NOTHING, Topic, simulated_sentence, summary_sentences, summary_topics
from feelcheck.renderers.report.words import CAUTIONS, METHODS

__all__ = ["REPORT_SCHEMA", "report_document", "report_html", "report_tables"]

Item = Picture | tables.Table
REPORT_SCHEMA = "feelcheck.report/1"


def report_html(
    report: Report, *, mark: str = "", voucher: str = "", say: Callable[[str], None] = lambda _: None
) -> str:
    """Return one self-contained page; nothing is fetched when it is opened.

    Parameters
    ----------
    report : Report
        Everything the page shows.
    mark, voucher : str
        The words by which the page is known again, and those by which it vouches for tables beside it.
    say : callable
        Called with one line before each part that takes time to draw.

    Notes
    -----
    Every string of the user's passes the template's escaping; figures are inline SVG with text alternatives; the JSON
    of all results is embedded.
    """
    topics = summary_topics(report)
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
            front=_front(report),
            headlines=headlines(topics),
            verdicts=verdict_table(report),
            steps=next_steps(report) if topics else [],
            nothing=NOTHING,
            folds=_folds(report, topics, say),
            cautions=CAUTIONS,
            methods=METHODS,
            provenance=tables.provenance_table(report),
            document=_script_safe(dump(report_document(report), indent=None)),
        )
    )


def report_document(report: Report) -> dict[str, Any]:
    """Return the JSON object that the page embeds.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
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
        **({} if report.making is None else {"made": asdict(report.making)}),
    }


def report_tables(report: Report) -> dict[str, str]:
    """Return the page's main tables as comma-separated text by name: ``at_a_glance``, ``comparison``, ``in_use``.

    Parameters
    ----------
    report : Report
        What the page shows.

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


def _folds(
    report: Report, topics: Sequence[tuple[str, list[Topic]]], say: Callable[[str], None]
) -> list[dict[str, Any]]:
    """The details: a fold for every specimen, then what is about all of them; folded where there are several."""
    names = specimens_of(report, topics)
    said, first = dict(topics), headlines(topics)
    folds, shown = [], set[str]()
    hand, bench = hand_by_label(report), bench_by_label(report)
    links, profiles = by_name(report.links, lambda link: link.specimen), by_name(report.profiles, lambda p: p.specimen)
    for k, name in enumerate(names):
        say(f"drawing {name}, {k + 1} of {len(names)}")
        own = replace(
            report,
            profiles=tuple(() if base_of(name) in shown else profiles.get(base_of(name), ())),
            bench=tuple(bench.get(name, ())),
            hand=tuple(hand.get(name, ())),
            comparison=None,
            chain=tuple(links.get(name, ())),
            feel=(),
        )
        sections = _own_sections(own, f"-{k + 1}" if k else "")
        told = [(topic, [s for s in lines if s != first.get(name)]) for topic, lines in said.get(name, [])]
        folds.append(_fold(f"specimen-{k + 1}", name, sections, len(names), [pair for pair in told if pair[1]]))
        shown.add(base_of(name))
    say("drawing all side by side")
    return [*folds, _fold("together", "Side by side", _shared_sections(report), len(names))]


def _fold(
    name: str, title: str, sections: Sequence[dict[str, Any]], n_specimens: int, topics: Sequence[Topic] = ()
) -> dict[str, Any]:
    kept = [section for section in sections if section["items"] or section["remarks"]]
    return {"id": name, "title": title, "sections": kept, "topics": topics, "open": n_specimens < 2}


def _own_sections(report: Report, mark: str) -> list[dict[str, Any]]:
    """The sections of one specimen; `mark` ends their names, unique on the page."""
    hand = [hand_pictures(result) for result in report.hand]
    bench = [picture for result in report.bench for picture in bench_pictures(result).values()]
    said = remarks.by_section(report)
    chains = [tables.chain_table(name, report.links) for name in dict.fromkeys(k.specimen for k in report.links)]
    return [
        _section(f"record{mark}", "The record and its parts", [table(report.profiles) for table in records.TABLES]),
        _section(f"chain{mark}", "The chain", chains),
        _section(f"bench{mark}", "On the bench", [*bench, tables.bench_table(report.bench)], said["bench"]),
        _section(f"hand{mark}", "In the hand: flicks and release",
                 [*_picked(hand, "flicks", "release"), tables.hand_table(report.hand),
                  tables.added_table(report.hand)], said["hand"]),
        _section(f"lattice{mark}", "Levels, reports and rest",
                 [*_picked(hand, "codes", "rest"), tables.lattice_table(report.hand)]),
        _section(f"cross-axis{mark}", "Cross-axis response and direction round the rim",
                 [tables.cross_axis_table(report.hand)]),
    ]  # fmt: skip


def _shared_sections(report: Report) -> list[dict[str, Any]]:
    """What is about all specimens together: the comparison, and what it means in use."""
    said = remarks.by_section(report)
    compared = {} if report.comparison is None else compare_pictures(replace(report.comparison, chain=()))
    verdicts = [] if report.comparison is None else [tables.comparison_table(report.comparison)]
    told = [tables.feel_table(report.feel), tables.evidence_rows(report.feel)]
    return [
        _section("comparison", "Comparison against the margin", [*compared.values(), *verdicts], said["comparison"]),
        _section("use", "Meaning in use", [*feel_pictures(report.feel).values(), *told], said["use"]),
        *_rehearsed(report),
    ]


def _rehearsed(report: Report) -> list[dict[str, Any]]:
    """The section on rehearsals, only where there was one: nobody misses it else."""
    told = trials.rehearsals_table(report.profiles)
    if not told.rows:
        return []
    said = [sentence for sentence in [trials.threshold_sentence(report)] if sentence]
    return [_section("rehearsed", "Rehearsed: what was told apart", [told, trials.beside_table(report)], said)]


def _front(report: Report) -> list[dict[str, Any]]:
    """The picture of all delays, for wide pages and for narrow ones."""
    pictures = zip(front_pictures(glance_rows(report)), ("wide", "narrow"), strict=False)
    return [
        {"svg": Markup(svg_element(p.sheet, f"front-{kind}", p.title, p.description)), "kind": kind, "title": p.title}
        for p, kind in pictures
    ]


def _picked(found: list[dict[str, Picture]], *names: str) -> list[Picture]:
    return [pictures[name] for pictures in found for name in names if name in pictures]


def _section(name: str, title: str, items: Sequence[Item], said: Sequence[str] = ()) -> dict[str, Any]:
    """One section: pictures and tables in order, empty tables left out, then remarks."""
    shown = page_items(name, items)
    return {"id": name, "title": title, "items": shown, "remarks": list(said)}
