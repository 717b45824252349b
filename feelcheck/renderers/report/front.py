"""The page's front: one sentence a specimen, the verdicts, what to do next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from feelcheck.counted import counted
from feelcheck.model import ChainLink, MetricComparison, Report
from feelcheck.model.labels import base_of
from feelcheck.model.quantities import DELAY
from feelcheck.renderers.report.glance import by_name
from feelcheck.renderers.report.summary import Topic
from feelcheck.renderers.report.tables import Table, plain_table

__all__ = ["headlines", "next_steps", "specimens_of", "verdict_table"]

VERDICTS = {"different": "different", "equivalent": "inside the margin", "undecided": "undecided"}
AGREEMENT = {"agree": "agree", "disagree": "disagree", "cannot_tell": "cannot be told"}
MOST_STEPS = 4
NOTHING_OPEN = "Nothing is open: what was measured decides every question that this page asks."


def specimens_of(report: Report, topics: Sequence[tuple[str, list[Topic]]]) -> list[str]:
    """Return every specimen of a page once, as it is called there; the baseline first.

    Parameters
    ----------
    report : Report
        What the page shows.
    topics : sequence of (str, list)
        Specimens with their topics and sentences.
    """
    known = [
        *(name for name, _ in topics),
        *(link.specimen for link in report.links),
        *(result.specimen for result in report.feel),
    ]
    told = {base_of(name) for name in known}
    return list(dict.fromkeys([*known, *(p.specimen for p in report.profiles if p.specimen not in told)]))


def headlines(topics: Sequence[tuple[str, list[Topic]]]) -> dict[str, str]:
    """Return the first sentence of every specimen.

    Parameters
    ----------
    topics : sequence of (str, list)
        Specimens with their topics and sentences.
    """
    return {name: said[0][1][0] for name, said in topics}


def verdict_table(report: Report) -> Table:
    """Return a row a specimen: its delay and everything else against the baseline, and whether its chain holds.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    metrics = () if report.comparison is None else report.comparison.metrics
    first = [] if report.comparison is None else [report.comparison.baseline, *report.comparison.candidates]
    held, links = by_name(metrics, lambda row: row.candidate_name), by_name(report.links, lambda link: link.specimen)
    names = [name for name in dict.fromkeys([*first, *links]) if name in held or name in links]
    rows = []
    for name in names:
        verdicts = [[row for row in held.get(name, ()) if (row.name == DELAY) is delays] for delays in (True, False)]
        rows.append((name, *(_counted(_verdicts(part), VERDICTS) for part in verdicts), _chain(links.get(name, ()))))
    baseline = "the baseline" if report.comparison is None else report.comparison.baseline
    header = ("specimen", f"delay, against {baseline}", "other figures", "parts, bench and hand")
    kept = [k for k in range(len(header)) if any(row[k] != "-" for row in rows)]
    return plain_table("Verdicts", tuple(header[k] for k in kept), [tuple(row[k] for k in kept) for row in rows])


def _verdicts(rows: Iterable[MetricComparison]) -> list[str]:
    return [row.verdict for row in rows]


def _chain(links: Sequence[ChainLink]) -> str:
    return _counted([link.verdict for link in links], AGREEMENT)


def _counted(verdicts: Sequence[str], words: dict[str, str]) -> str:
    """How often each verdict was given, such as ``3 of 4 different, 1 undecided``."""
    found = Counter(verdicts)
    said = [f"{found[verdict]} {word}" for verdict, word in words.items() if found[verdict]]
    if len(said) == 1 and len(verdicts) > 1:
        return f"all {said[0]}"
    return ", ".join(said) or "-"


def next_steps(report: Report) -> list[str]:
    """Return what to do next: where links disagree, what is undecided, what the captures and links ask for.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    steps = [*_look_at(report.links), *_record_more(report), *_told(report.links)]
    return list(dict.fromkeys(steps))[:MOST_STEPS] or [NOTHING_OPEN]


def _look_at(links: Sequence[ChainLink]) -> list[str]:
    return [
        f"{link.specimen}, {link.axis} {link.direction}: look at {'; '.join(link.look_at)}."
        for link in links
        if link.verdict == "disagree" and link.look_at
    ]


def _record_more(report: Report) -> list[str]:
    """How many recordings would probably decide; where nobody can tell, that the flicks are to be done again."""
    rows = [] if report.comparison is None else [r for r in report.comparison.metrics if r.verdict == "undecided"]
    said = []
    for name, own in by_name(rows, lambda row: row.candidate_name).items():
        delays = [row for row in own if row.name == DELAY]
        counts = [row.more_recordings for row in delays if row.more_recordings]
        if counts:
            more = counted(max(counts), "more recording")
            said.append(f"{name}: {more} would probably decide its delay; feelcheck log.")
        elif delays:
            where = ", ".join(f"{row.axis} {row.direction}" for row in delays)
            said.append(f"{name}: undecided on {where}; record straight flicks again, see feelcheck guide hand.")
    return said


def _told(links: Sequence[ChainLink]) -> list[str]:
    """What would let a link be judged that cannot be told."""
    found: dict[str, list[str]] = {}
    for link in links:
        if link.verdict == "cannot_tell":
            advice = [caveat.advice for e in (link.predicted, link.measured) for caveat in e.caveats if caveat.advice]
            before, after = link.link.split("-")
            what = advice[0] if advice else f"record more often: the {after} does not decide against the {before}."
            found.setdefault(what, []).append(link.specimen)
    return [f"{', '.join(dict.fromkeys(names))}: {what}" for what, names in found.items()]
