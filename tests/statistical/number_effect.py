"""What one of the tool's numbers that decide does: everything measured with it as it is, and with another value.

::

    python tests/statistical/number_effect.py feelcheck.bench.numbers VAGUE                # twice its value
    python tests/statistical/number_effect.py feelcheck.hand.gate_stop.numbers SYSTEMATIC --to 0.02 --every 4

Simulated captures are measured for a number of the bench, simulated logs, one an effect, for one of the hand; for one
of the comparison every shipped record is held against every other, and verdicts are counted as a status. A number
that changes nothing when doubled goes.
"""

from __future__ import annotations

import argparse
import importlib
import os
import runpy
import statistics
import sys
from collections import Counter
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
    for module in homes:
        setattr(module, name, own.like(value))
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


def main() -> int:
    """Measure twice and print what differs."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("room", help="module of numbers")
    parser.add_argument("name")
    parser.add_argument("--to", type=float, help="another value; twice its own if not told")
    parser.add_argument("--every", type=int, default=1, help="take only every so many items")
    asked = parser.parse_args()
    number = numbers_of(importlib.import_module(asked.room))[asked.name]
    value = 2 * number if asked.to is None else asked.to
    os.chdir(ROOT)
    family = next((room for room in ("bench", "comparison") if f".{room}." in asked.room), "hand")
    before = measured(family, asked.every)
    n_homes = changed(asked.room, asked.name, value)
    sys.stdout.write(
        f"{asked.name} = {float(number):g} (unit: {number.unit}) made {value:g} in {n_homes} modules: {family}\n"
    )
    sys.stdout.write("\n".join(effect(before, measured(family, asked.every))) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
