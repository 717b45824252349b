"""A page that proves itself: every number derived again from the files that the page was made from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any, Final

from feelcheck.errors import FeelcheckError, FormatError
from feelcheck.formats.report_page import ReportPage, read_report_page
from feelcheck.model import Difference, Evidence, FileCheck, HandResult, Report, Tally, Verification
from feelcheck.model.labels import STATE_MARK
from feelcheck.outputs import REPORT_PAGE
from feelcheck.pipeline._evidence import looked_for
from feelcheck.pipeline._gathering import concluded, measured_each, versions
from feelcheck.pipeline._measuring import Measured, Measurements
from feelcheck.pipeline._specimens import Specimen, specimens_of

__all__ = ["NOT_DERIVED", "document_tallies", "sequence_tally", "verify"]

Say = Callable[[str], None]
BY_FILE = ("bench", "hand")
FROM_RECORDINGS = ("summary",)

SAME_RELATIVE = 1e-6
"""Below this two numbers are the same: a page shows five digits, processors agree to ten or more."""
MOST_KEPT = 1000
MOST_MATCHED = 4000
NOT_DERIVED: Final = object()
"""Stands for a part of a document that could not be made again."""
_ABSENT: Final = object()


def verify(page: str | Path, files: Sequence[str | Path] = (), *, say: Say = lambda _: None) -> Verification:
    """Hold a page against the files that it was made from.

    Parameters
    ----------
    page : str or Path
        A page of `report` or of the demo.
    files : sequence of str or Path
        Folders where its files may lie; else they are looked for beside the page and where they were.
    say : callable
        Called with one line before each step that takes time.

    Returns
    -------
    Verification
        How many numbers are the same; which files are changed or missing; which versions are others now.

    Raises
    ------
    FormatError
        If it is no such page, or one of the folders is none.

    Notes
    -----
    Only files whose hash is the one on the page are measured. Where every file is at hand and tool and libraries have
    the versions of the page, the page is drawn again too, and its text and pictures are held against it. The day that
    it tells is not proved, and whoever changed files and page together made another page.
    """
    path = Path(page)
    told = read_report_page(path)
    say("looking for the files")
    checks = looked_for(told.making.files, path, [_folder(Path(folder)) for folder in files])
    found = _Derived(told, checks, Measurements(say=say))
    found.derive(say)
    numbers, words = document_tallies(_by_file(_compared(told.document)), found.document)
    changed = _other_versions(told.document)
    again = None
    if found.whole is not None and not changed:
        say("drawing the page again")
        again = told.drawn(_drawn(found.whole, told, say))
    return Verification(
        page=str(path),
        title=str(told.document.get("title", "")),
        made_on=str(_provenance(told.document).get("made on", "")),
        files=tuple(checks),
        versions=changed,
        numbers=numbers,
        words=words,
        shown=Tally() if again is None else _shown(told, again),
        identical=again is not None and again.text == told.text,
        remarks=tuple(found.remarks),
    )


def _folder(folder: Path) -> Path:
    if not folder.is_dir():
        raise FormatError("Files are looked for in a folder.", {"got": folder}, "Name a folder that is there.")
    return folder


@dataclass(slots=True)
class _Derived:
    """What could be derived again: a document with holes, and the whole report where there are none."""

    told: ReportPage
    checks: Sequence[FileCheck]
    measurements: Measurements
    document: dict[str, Any] = field(default_factory=dict)
    whole: Report | None = None
    remarks: list[str] = field(default_factory=list)

    def derive(self, say: Say) -> None:
        """Measure every file that is the same, then conclude from all of them."""
        from feelcheck.renderers.report.page import report_document

        results = self._measured()
        self.document = _holes(self.told.document, results)
        if not self._whole("reference"):
            self.remarks.append("Without the same references there is no comparison and no meaning in use to derive.")
            return
        try:
            report = concluded(self.told.making, self._specimens(), results, say=say)
            now = _compared(report_document(report))
        except FeelcheckError as problem:
            self.remarks.append(f"What follows from the references could not be derived: {problem.sentence}")
            return
        if len(results) == sum(check.evidence.kind != "reference" for check in self.checks):
            self.whole, self.document = report, _by_file(now)
            return
        holes = {name: self.document[name] for name in BY_FILE} | dict.fromkeys(FROM_RECORDINGS, NOT_DERIVED)
        comparison = now.get("comparison")
        if comparison is not None:
            holes["comparison"] = comparison | {"predictions": NOT_DERIVED}
        self.document = now | holes

    def _measured(self) -> list[tuple[Evidence, Measured]]:
        same = [check for check in self.checks if check.evidence.kind != "reference" and check.state == "same"]
        return list(measured_each(((c.evidence, Path(c.found)) for c in same), self.measurements, self._left_out))

    def _left_out(self, place: Path, problem: FeelcheckError) -> None:
        self.remarks.append(f"{place.name} could not be measured: {problem.sentence}")

    def _whole(self, kind: str) -> bool:
        return all(check.state == "same" for check in self.checks if check.evidence.kind == kind)

    def _specimens(self) -> list[Specimen]:
        """The references where they lie now, called by where they lay."""
        found = {check.evidence.reference: check for check in self.checks if check.evidence.kind == "reference"}
        named = [found[k].evidence.path for k in range(len(found))]
        now = []
        for k, reference in enumerate(self.told.making.references):
            _, mark, state = reference.rpartition(STATE_MARK)
            behind = "" if Path(reference) == Path(named[k]) else f"{mark}{state}"
            now.append(f"{found[k].found}{behind}")
        return [
            replace(one, profile=replace(one.profile, path=path if one.profile.path else ""))
            for one, path in zip(specimens_of(now, self.measurements), named, strict=True)
        ]


def _compared(document: Mapping[str, Any]) -> dict[str, Any]:
    """The part of a page's data that is derived: without what tells how it was made."""
    return {name: value for name, value in document.items() if name not in ("made", "provenance")}


def _by_file(document: dict[str, Any]) -> dict[str, Any]:
    """The same with the results of files under their paths, so that one that is missing shifts none."""
    keyed = dict(document)
    for name in BY_FILE:
        if isinstance(results := document.get(name), list):
            keyed[name] = {_key(name, k, result): result for k, result in enumerate(results)}
    return keyed


def _key(name: str, k: int, result: Any) -> str:
    source = result.get("source") if isinstance(result, dict) else None
    path = source.get("path") if isinstance(source, dict) else None
    return str(path) if path else f"{name} {k + 1}"


def _holes(page: Mapping[str, Any], results: Sequence[tuple[Evidence, Measured]]) -> dict[str, Any]:
    """A document of what was measured, with holes for everything else that the page tells."""
    from feelcheck.renderers.bench_json import bench_document
    from feelcheck.renderers.hand_json import hand_document

    keyed = _by_file(_compared(page))
    holes: dict[str, Any] = dict.fromkeys(keyed, NOT_DERIVED)
    known: dict[str, dict[str, Any]] = {name: dict.fromkeys(keyed.get(name) or (), NOT_DERIVED) for name in BY_FILE}
    for one, result in results:
        if isinstance(result, HandResult):
            known["hand"][one.path] = hand_document(result)
        else:
            known["bench"][one.path] = bench_document(result)
    return holes | known


def _provenance(document: Mapping[str, Any]) -> dict[str, str]:
    told = document.get("provenance")
    return {str(k): str(v) for k, v in told.items()} if isinstance(told, dict) else {}


def _other_versions(document: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    told = _provenance(document)
    return {
        name.removesuffix(" version"): (told.get(name, "not told"), now)
        for name, now in versions().items()
        if name.endswith(" version") and told.get(name) != now
    }


def _drawn(report: Report, told: ReportPage, say: Say) -> str:
    from feelcheck.renderers.report import report_html

    dated = replace(report, provenance=_provenance(told.document), making=told.making)
    return report_html(dated, mark=REPORT_PAGE.mark, voucher=told.voucher, say=say)


def _shown(told: ReportPage, again: ReportPage) -> Tally:
    """The text and the pictures; where they agree and the page does not, that its markup was changed."""
    tally = together([
        sequence_tally("passage", told.passages, again.passages),
        sequence_tally("picture", told.pictures, again.pictures, shown=False),
    ])  # fmt: skip
    if tally.different or told.text == again.text:
        return tally
    markup = Difference(where="markup", page="", now="")
    return together([tally, Tally(different=1, differences=(markup,))])


def document_tallies(page: Any, now: Any) -> tuple[Tally, Tally]:
    """Return how many numbers, and how many other values, two JSON documents have in common.

    Parameters
    ----------
    page, now : object
        As parsed; `NOT_DERIVED` in the second stands for what is not known.

    Examples
    --------
    >>> numbers, words = document_tallies({"a": 1.0, "b": "x"}, {"a": 1.1, "b": "x"})
    >>> numbers.differences[0].where, words.same
    ('a', 1)
    """
    found: dict[bool, list[tuple[str, Any, Any]]] = {True: [], False: []}
    for where, one, other in _leaves("", page, now):
        found[_number(one) or _number(other)].append((where, one, other))
    return _tally(found[True]), _tally(found[False])


def _leaves(where: str, page: Any, now: Any) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(page, dict) and (isinstance(now, dict) or now is NOT_DERIVED):
        for key in dict.fromkeys([*page, *(now if isinstance(now, dict) else ())]):
            other = now.get(key, _ABSENT) if isinstance(now, dict) else now
            yield from _leaves(f"{where}.{key}".lstrip("."), page.get(key, _ABSENT), other)
    elif isinstance(page, list) and (isinstance(now, list) or now is NOT_DERIVED):
        for k in range(max(len(page), len(now) if isinstance(now, list) else 0)):
            other = (now[k] if k < len(now) else _ABSENT) if isinstance(now, list) else now
            yield from _leaves(f"{where}[{k}]", page[k] if k < len(page) else _ABSENT, other)
    else:
        yield where, page, now


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _same(one: Any, other: Any) -> bool:
    if _number(one) and _number(other):
        return bool(abs(one - other) <= SAME_RELATIVE * max(abs(one), abs(other)))
    return type(one) is type(other) and bool(one == other)


def _tally(leaves: Sequence[tuple[str, Any, Any]]) -> Tally:
    derived = [leaf for leaf in leaves if leaf[2] is not NOT_DERIVED]
    unlike = [leaf for leaf in derived if not _same(leaf[1], leaf[2])]
    return Tally(
        same=len(derived) - len(unlike),
        different=len(unlike),
        not_derived=len(leaves) - len(derived),
        differences=tuple(Difference(where=w, page=_told(a), now=_told(b)) for w, a, b in unlike[:MOST_KEPT]),
    )


def _told(value: Any) -> str:
    return "" if value is _ABSENT else str(value)[:300]


def sequence_tally(kind: str, page: Sequence[str], now: Sequence[str], *, shown: bool = True) -> Tally:
    """Return how many of a page's pieces are the same, in order.

    Parameters
    ----------
    kind : str
        What a piece is called, such as ``"passage"``.
    page, now : sequence of str
        The pieces.
    shown : bool
        Whether a difference quotes the pieces.
    """
    first = next((k for k, (a, b) in enumerate(zip(page, now, strict=False)) if a != b), min(len(page), len(now)))
    rest = (page[first:], now[first:])
    same, found = first, list[Difference]()
    if max(map(len, rest)) <= MOST_MATCHED:
        for tag, i1, i2, j1, j2 in SequenceMatcher(None, *rest, autojunk=False).get_opcodes():
            if tag == "equal":
                same += i2 - i1
            else:
                found += _unlike(kind, first + i1, rest[0][i1:i2], rest[1][j1:j2], shown=shown)
    else:
        found += _unlike(kind, first, *rest, shown=shown)
    return Tally(same=same, different=len(found), differences=tuple(found[:MOST_KEPT]))


def _unlike(kind: str, at: int, page: Sequence[str], now: Sequence[str], *, shown: bool) -> Iterator[Difference]:
    for k in range(max(len(page), len(now))):
        one, other = (side[k] if k < len(side) else "" for side in (page, now))
        quoted = (one[:300], other[:300]) if shown else ("", "")
        yield Difference(where=f"{kind} {at + k + 1}", page=quoted[0], now=quoted[1])


def together(tallies: Sequence[Tally]) -> Tally:
    """Return several tallies as one."""
    return Tally(
        same=sum(tally.same for tally in tallies),
        different=sum(tally.different for tally in tallies),
        not_derived=sum(tally.not_derived for tally in tallies),
        differences=tuple(one for tally in tallies for one in tally.differences),
    )
