"""The text and the JSON document of `feelcheck verify` (schema feelcheck.verify/1)."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import PurePath
from typing import Any

from feelcheck.model import Difference, FileCheck, Tally, Verification
from feelcheck.renderers._json import dump, encoded, picked
from feelcheck.renderers._table import text_table

__all__ = ["VERIFY_SCHEMA", "verify_document", "verify_json", "verify_text"]

VERIFY_SCHEMA = "feelcheck.verify/1"
WIDTH, MOST_TOLD = 100, 10
STATES = {"same": "the same", "changed": "changed since", "missing": "not found"}
UNPROVED = "The day that a page tells is not proved, nor that nobody made files and page anew together."


def verify_text(result: Verification) -> str:
    """Return what was proved, and what was not, in words.

    Parameters
    ----------
    result : Verification
        The verification.
    """
    lines = [
        *_wrapped(
            f"{result.title} ({PurePath(result.page).name}, made on {result.made_on or 'a day it does not tell'})"
        ),
        "",
        *_wrapped(_verdict(result)),
        *_versions(result),
        "",
        text_table(("file", "what it is", "by its hash", "where it lies"), [_file(check) for check in result.files]),
        *_differences("Numbers that differ", result.numbers.differences),
        *_differences("Words that differ in the data", result.words.differences),
        *_differences("What the page shows otherwise", result.shown.differences),
        *([""] if result.remarks else []),
        *(line for remark in result.remarks for line in _wrapped(remark)),
        "",
        *_wrapped(UNPROVED),
    ]
    return "\n".join(lines)


def _verdict(result: Verification) -> str:
    """The counts in one or two sentences."""
    said = [f"{_counted(result.numbers, 'number')}."]
    if result.words.different:
        said.append(f"{result.words.different} of {result.words.total} other values in its data differ.")
    if result.identical:
        said.append("Drawn again, the page is the same to the last letter.")
    elif result.shown.total:
        said.append(
            f"Of what it shows, {result.shown.same} of {result.shown.total} passages and pictures are the same."
        )
    else:
        said.append("Its text and pictures were not drawn again.")
    return " ".join(said)


def _counted(tally: Tally, what: str) -> str:
    if tally.total and tally.same == tally.total:
        return f"All {tally.total} {what}s are the same"
    words = [f"{tally.same} of {tally.total} {what}s are the same"]
    words += [f"{tally.different} {'differs' if tally.different == 1 else 'differ'}"] if tally.different else []
    words += [f"{tally.not_derived} could not be derived again"] if tally.not_derived else []
    return ", ".join(words)


def _versions(result: Verification) -> list[str]:
    if not result.versions:
        return []
    told = ", ".join(f"{name} {then} (here {now})" for name, (then, now) in result.versions.items())
    return _wrapped(
        f"The page was made with other versions: {told}. A number that differs may come from that; what the page shows "
        "was not drawn again."
    )


def _file(check: FileCheck) -> tuple[str, ...]:
    one = check.evidence
    what = "asked for" if one.kind == "reference" else f"{one.kind} of {one.specimen}"
    return PurePath(one.path.replace("\\", "/")).name, what, STATES[check.state], check.found or "-"


def _differences(title: str, found: Sequence[Difference]) -> Iterator[str]:
    if not found:
        return
    yield ""
    yield title
    for one in found[:MOST_TOLD]:
        words = f": {one.page or 'nothing'} on the page, {one.now or 'nothing'} now" if one.page or one.now else ""
        yield from _wrapped(f"  {one.where}{words}")
    if len(found) > MOST_TOLD:
        yield f"  and {len(found) - MOST_TOLD} more (--json lists them)"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ") or [""]


def verify_document(result: Verification) -> dict[str, Any]:
    """Return the JSON object of a verification.

    Parameters
    ----------
    result : Verification
        What the command gives.
    """
    return {
        "schema": VERIFY_SCHEMA,
        **picked(result, "page", "title", "made_on", "proved"),
        "numbers": _tally(result.numbers),
        "words": _tally(result.words),
        "shown": {**_tally(result.shown), "identical": result.identical},
        "versions": {name: {"page": then, "now": now} for name, (then, now) in result.versions.items()},
        "files": [
            {
                **picked(check.evidence, "path", "kind", "specimen", "sha256"),
                "found": check.found or None,
                "state": check.state,
            }
            for check in result.files
        ],
        "remarks": list(result.remarks),
    }


def _tally(tally: Tally) -> dict[str, Any]:
    return {"total": tally.total, **encoded(tally)}


def verify_json(result: Verification) -> str:
    """Return the verification as one JSON document.

    Parameters
    ----------
    result : Verification
        The verification.
    """
    return dump(verify_document(result))
