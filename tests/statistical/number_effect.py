"""What one of the tool's numbers that decide does: everything measured with it as it is, and with another value.

::

    python tests/statistical/number_effect.py feelcheck.bench.numbers VAGUE                # twice its value
    python tests/statistical/number_effect.py feelcheck.hand.gate_stop.numbers SYSTEMATIC --to 0.02 --every 4
    python tests/statistical/number_effect.py feelcheck.formats.numbers MOVES GAP_S --every 8

Simulated captures are measured for a number of the bench, simulated logs, one an effect, for one of the hand; for one
of the comparison every shipped record is held against every other, and verdicts are counted as a status; for one of the
readers all capture styles and files put together at random are read, and those that are read, told or refused otherwise
are counted. Several numbers are tried one after the other. A number that changes nothing when doubled goes.
"""

from __future__ import annotations

import argparse
import importlib
import os
import runpy
import statistics
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from feelcheck.model.numbers import numbers_of
from feelcheck.renderers._rows import estimate_rows

ROOT = Path(__file__).parents[2]


def pinned() -> dict[str, Any]:
    """Return the judge's own items and makers."""
    return runpy.run_path(str(ROOT / "tests" / "reference" / "pinned_numbers.py"))


def records() -> list[str]:
    """Return every pair of shipped records."""
    names = sorted(path.stem for path in (ROOT / "profiles").glob("*.toml"))
    return [f"{one} {other}" for one in names for other in names if one != other]


def compared(pair: str) -> Any:
    """Return the document of one record against another."""
    from feelcheck import pipeline
    from feelcheck.renderers.compare_json import compare_document

    one, other = (f"profiles/{name}.toml" for name in pair.split())
    return compare_document(pipeline.compare(other, [one]))


def verdicts(document: Any) -> dict[str, dict[str, Any]]:
    """Return the verdicts of a comparison by their place, each as an estimate without numbers."""
    return {
        f"{part} {k}": {"status": row["verdict"], **dict.fromkeys(("value", "u", "high", "low"))}
        for part in ("metrics", "chain")
        for k, row in enumerate(document.get(part, []))
    }


def measured(family: str, every: int) -> dict[tuple[str, ...], dict[str, Any]]:
    """Return every estimate of a family's items by item, part, axis, direction and quantity."""
    judge = pinned()
    made = judge["MAKERS"].get(family, compared)
    names = records() if family == "comparison" else judge["items"](family)
    found: dict[tuple[str, ...], dict[str, Any]] = {}
    for name in names[::every]:
        document = made(name)
        for row in estimate_rows(document):
            found[name, row.part, row.axis, row.direction, row.quantity] = row.estimate
        if family == "comparison":
            found |= {(name, place): verdict for place, verdict in verdicts(document).items()}
    return found


def changed(room: str, name: str, value: float) -> int:
    """Give a number another value wherever it was imported; return in how many modules."""
    own = numbers_of(importlib.import_module(room))[name]
    homes = [m for key, m in sys.modules.items() if key.startswith("feelcheck") and vars(m).get(name) is own]
    other = own.like(value)
    for module in homes:
        setattr(module, name, other)
    return len(homes)


def effect(before: dict[tuple[str, ...], dict[str, Any]], after: dict[tuple[str, ...], dict[str, Any]]) -> list[str]:
    """Return what differs, in lines."""
    both = [(before[key], after[key]) for key in before if key in after]
    turned = Counter(f"{one['status']} to {other['status']}" for one, other in both if one["status"] != other["status"])
    lines = [f"{len(both)} estimates", f"status changed: {sum(turned.values())}"]
    lines += [f"  {words}: {n}" for words, n in turned.most_common()]
    for what in ("value", "u", "high", "low"):
        pairs = [(one[what], other[what]) for one, other in both if one[what] and other[what]]
        ratios = [other / one - 1 for one, other in pairs if one != other]
        middle = f", by {100 * statistics.median(map(abs, ratios)):.3g} % in the middle" if ratios else ""
        lines.append(f"{what} changed: {len(ratios)} of {len(pairs)}{middle}")
    return lines


def read(every: int) -> dict[tuple[str, str], Any]:
    """Return what the readers make of each item of the judge's families of files."""
    judge = pinned()
    home = Path.cwd()
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        for family in ("style", "mixed", "log"):
            for name in judge["items"](family)[::every]:
                found[family, name] = judge["flat"](judge["MAKERS"][family](name))
        os.chdir(home)
    return found


def reading_effect(before: dict[tuple[str, str], Any], after: dict[tuple[str, str], Any]) -> list[str]:
    """Return how many files are read, told or refused otherwise, in lines."""

    def differ(which: Callable[[str], bool]) -> int:
        parts = [
            [{place: value for place, value in found[key].items() if which(place)} for found in (before, after)]
            for key in before
        ]
        return sum(one != other for one, other in parts)

    return [
        f"{len(before)} files",
        f"refused before or after only: {differ(lambda place: place == '/refused')}",
        f"read otherwise: {differ(lambda place: '/told/' not in place)}",
        f"told otherwise: {differ(lambda place: '/told/' in place)}",
    ]


def main() -> int:
    """Measure with the numbers as they are and with each one changed, and print what differs."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("room", help="module of numbers")
    parser.add_argument("names", nargs="+")
    parser.add_argument("--to", type=float, help="another value; twice its own if not told")
    parser.add_argument("--every", type=int, default=1, help="take only every so many items")
    asked = parser.parse_args()
    numbers = numbers_of(importlib.import_module(asked.room))
    os.chdir(ROOT)
    of_readers = ".formats." in asked.room
    family = next((room for room in ("bench", "comparison") if f".{room}." in asked.room), "hand")
    before: Any = read(asked.every) if of_readers else measured(family, asked.every)
    for name in asked.names:
        number = numbers[name]
        value = 2 * number if asked.to is None else asked.to
        n_homes = changed(asked.room, name, value)
        said = f"{name} = {float(number):g} (unit: {number.unit}) made {value:g} in {n_homes} modules"
        lines = (
            reading_effect(before, read(asked.every)) if of_readers else effect(before, measured(family, asked.every))
        )
        sys.stdout.write("\n".join([f"{said}: {'readers' if of_readers else family}", *lines]) + "\n")
        sys.stdout.flush()
        changed(asked.room, name, number)
    return 0


if __name__ == "__main__":
    sys.exit(main())
