"""Put small defects into a copy of the package, one at a time, and see whether the tests meant for each notice.

``python tests/mutation/mutation.py --notes ../mutation.jsonl`` runs the whole list of ``defects.toml`` and prints the
table; stopped and run again, it goes on where it was: a defect is run again when its module changed, and one that
survived when its tests did. ``--only WORD`` (may be repeated) takes the defects whose name or room holds the word. The
tests must pass on the whole code, which is seen first; ``--sure`` spares that where they are known to. With
``--page DEVELOPERS.md`` the table is put there. The exit code is 1 where fewer than nine in ten are caught.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import json
import multiprocessing as mp
import os
import resource
import shutil
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parent))
os.environ.setdefault("OMP_NUM_THREADS", "1")

from defects import KINDS, PACKAGE, Defect, defects, spoilt

ROOT = PACKAGE.parent
LONGEST_S, LONGEST_WHOLE_S = 120, 3600
"""Processor time after which a run counts as hung, with a defect and without: one that makes tests hang is noticed."""
LIBRARIES = (
    "numpy", "scipy.special", "scipy.optimize", "scipy.stats", "scipy.fft", "scipy.integrate", "scipy.interpolate",
    "scipy.signal", "scipy.linalg", "pandas", "hypothesis", "typer.testing", "pytest", "msgspec", "tomlkit",
)  # fmt: skip
ALREADY = "ignore::pytest.PytestAssertRewriteWarning"  # what is loaded already is no test
NICE = 5
LEAST_CAUGHT = 0.9
BEGIN, END = "<!-- the table of tests/mutation/mutation.py -->", "<!-- its end -->"
PASSED, FAILED = 0, 1


@contextmanager
def private_copy() -> Iterator[Path]:
    """Give a copy of the package and its tests that may be spoilt."""
    with tempfile.TemporaryDirectory(prefix="mutation") as folder:
        tree = Path(folder)
        for name in ("feelcheck", "tests"):
            shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis"))
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, tree / name)
        for name in ("demo_logs", "profiles"):
            (tree / name).symlink_to(ROOT / name)
        yield tree


def run_tests(tree: Path, paths: Sequence[str], longest_s: int) -> tuple[int, str]:
    """Run tests against the copy until the first fails; return pytest's exit code (below 0: it hung), and what failed.

    They run in a fork of this process, which has the libraries loaded already: most of a small run is loading them.
    """
    told = tree / "told.txt"
    worker = mp.get_context("fork").Process(target=_run_here, args=(tree, tuple(paths), told, longest_s))
    worker.start()
    worker.join()
    lines = told.read_text(encoding="utf-8").splitlines()
    failed = [line for line in lines if line.startswith(("FAILED", "ERROR"))] or lines[-1:]
    return worker.exitcode if worker.exitcode is not None else -1, failed[0][:200] if failed else ""


def _run_here(tree: Path, paths: Sequence[str], told: Path, longest_s: int) -> None:
    import pytest

    resource.setrlimit(resource.RLIMIT_CPU, (longest_s, longest_s))
    os.chdir(tree)
    sys.path.insert(0, str(tree))
    os.environ["PYTHONPATH"] = str(tree)
    with told.open("w", encoding="utf-8") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
        code = pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-W", ALREADY, *paths])
    os._exit(int(code))


def _libraries_loaded() -> None:
    """Load what the tests need beside the package itself, which every run loads anew."""
    for name in LIBRARIES:
        with suppress(ImportError), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            importlib.import_module(name)
    assert "feelcheck" not in sys.modules


def tried(defect: Defect, tree: Path) -> dict[str, Any]:
    """Put one defect in, run its tests, take it out; return how it ended, what noticed it, and the seconds."""
    found = spoilt(defect, tree / "feelcheck")
    whole, begun_s = found.path.read_text(encoding="utf-8"), time.monotonic()
    _put(found.path, found.text)
    try:
        code, told = run_tests(tree, defect.tests, LONGEST_S)
    finally:
        _put(found.path, whole)
    known = {PASSED: "survived", FAILED: "caught"}
    ended = "caught" if code < 0 else known.get(code, f"no verdict (pytest {code})")
    return {"id": defect.id, "ended": ended, "by": "" if code == PASSED else told, "s": time.monotonic() - begun_s}


def _put(path: Path, text: str) -> None:
    """Write a module; its compiled form goes, which could be taken for that of the new text."""
    path.write_text(text, encoding="utf-8")
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"):
        compiled.unlink()


def states_of(defect: Defect) -> dict[str, str]:
    """Return digests of a defect in its module, and of its tests: as long as they stay, a result does."""
    module = repr(defect).encode() + spoilt(defect).text.encode()
    files = [ROOT / path.partition("::")[0] for path in defect.tests]
    tests = b"".join(file.read_bytes() for file in files)
    return {"module": hashlib.sha256(module).hexdigest(), "tests": hashlib.sha256(tests).hexdigest()}


def _stands(result: dict[str, Any], states: dict[str, str]) -> bool:
    """Whether a result still holds: that of one caught while its module stays, else while its tests do, too."""
    return bool(
        result["module"] == states["module"] and (result["ended"] == "caught" or result["tests"] == states["tests"])
    )


def table(results: Sequence[dict[str, Any]], chosen: Sequence[Defect]) -> str:
    """Return counts by room and kind, and each survivor, as Markdown."""
    ended = {result["id"]: result for result in results}
    lines = ["| room | kind | defects | caught | longest, s |", "|---|---|---|---|---|"]
    rooms = sorted({defect.room for defect in chosen})
    groups = [(room, kind, [d for d in chosen if (d.room, d.kind) == (room, kind)]) for room in rooms for kind in KINDS]
    for room, kind, held in [*groups, ("all", "", list(chosen))]:
        if held:
            caught = sum(ended[defect.id]["ended"] == "caught" for defect in held)
            longest = max(ended[defect.id]["s"] for defect in held)
            lines.append(f"| {room} | {kind} | {len(held)} | {caught} | {longest:.0f} |")
    left = [defect for defect in chosen if ended[defect.id]["ended"] != "caught"]
    told = [f"- `{d.id}` {ended[d.id]['ended']}: `{d.before}` -> `{d.after}`. {d.known}".rstrip() for d in left]
    return "\n".join([*lines, "", *told]).rstrip()


def main() -> int:
    """Run what is asked for and print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", action="append", default=[])
    asked.add_argument("--notes", type=Path)
    asked.add_argument("--page", type=Path)
    asked.add_argument("--sure", action="store_true")
    given = asked.parse_args()
    chosen = [d for d in defects() if not given.only or any(word in f"{d.room} {d.id}" for word in given.only)]
    states = {defect.id: states_of(defect) for defect in chosen}
    results = [r for r in _kept(given.notes) if r["id"] in states and _stands(r, states[r["id"]])]
    left = [defect for defect in chosen if defect.id not in {result["id"] for result in results}]
    os.nice(NICE)
    _libraries_loaded()
    for result in _all_tried(left, sure=given.sure):
        results.append({**result, **states[result["id"]]})
        if given.notes:
            with given.notes.open("a", encoding="utf-8") as notes:
                notes.write(json.dumps(results[-1]) + "\n")
        print(f"{result['ended']}: {result['id']} ({result['s']:.0f} s) {result['by']}", file=sys.stderr, flush=True)
    text = table(results, chosen)
    print(text)
    if given.page:
        before = given.page.read_text(encoding="utf-8")
        head, _, rest = before.partition(BEGIN)
        given.page.write_text(f"{head}{BEGIN}\n{text}\n{END}{rest.partition(END)[2]}", encoding="utf-8")
    return 0 if sum(result["ended"] == "caught" for result in results) >= LEAST_CAUGHT * len(chosen) else 1


def _all_tried(left: Sequence[Defect], *, sure: bool) -> Iterator[dict[str, Any]]:
    """Try every defect; unless it is sure, first see that the tests pass on the whole code."""
    if not left:
        return
    with private_copy() as tree:
        whole = [] if sure else sorted({path for defect in left for path in defect.tests})
        code, told = run_tests(tree, whole, LONGEST_WHOLE_S) if whole else (PASSED, "")
        if code != PASSED:
            raise SystemExit(f"the tests fail without a defect: {told}")
        yield from (tried(defect, tree) for defect in left)


def _kept(notes: Path | None) -> list[dict[str, Any]]:
    """What the notes say, the last word on each defect."""
    if notes is None or not notes.exists():
        return []
    results = [json.loads(line) for line in notes.read_text(encoding="utf-8").splitlines()]
    return list({result["id"]: result for result in results}.values())


if __name__ == "__main__":
    sys.exit(main())
