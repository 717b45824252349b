"""The judge of changes that must change no number: write what the tool says of everything, compare two such sets.

::

    python tests/reference/pinned_numbers.py write BEFORE      # on the commit before; --every 4 takes a fourth of it
    python tests/reference/pinned_numbers.py write AFTER       # on the commit after
    python tests/reference/pinned_numbers.py compare BEFORE AFTER [--skip told]

A set is a folder of JSON files, one an item:

========  ============================================================================================================
session   `analyze --json` of every shipped session
capture   `bench --json` of every shipped capture
hand      `analyze --json` of simulated logs, one an effect
bench     `bench --json` of simulated captures: every board, and poles under several drives
style     what is read from every capture style of `capture_styles.py`, or how it is refused
mixed     what is read from `random_captures.py`
log       what is read from `random_logs.py`
file      what both readers make of every other delimited file of the repository
========  ============================================================================================================

What is *read* stands as hashes with some values beside them; what is *told* (remarks, facts) stands under `told`, which
`--skip told` leaves out. The result of the comparison is 0 where nothing differs.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import hashlib
import json
import multiprocessing
import runpy
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from feelcheck.errors import FeelcheckError

ROOT = Path(__file__).parents[2]
FAMILIES = ("session", "capture", "hand", "bench", "style", "mixed", "log", "file")
N_AT_RANDOM = 300
TAUS_S = (0.0003, 0.001, 0.0047, 0.02, 0.06)
DRIVES_S = (0.0005, 0.0025)


@cache
def _corpus(name: str) -> dict[str, Any]:
    return runpy.run_path(str(ROOT / "tests" / name))


def _styles() -> dict[str, Any]:
    return {item.name: item for item in _corpus("reference/capture_styles.py")["STYLES"]}


def _table_files() -> Iterator[str]:
    for folder in ("demo_logs", "tests/golden/inputs", "tests/reference/data"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".csv", ".txt"):
                yield str(path.relative_to(ROOT))


def items(family: str) -> list[str]:
    """Return the names of a family's items."""
    from feelcheck.testing.bench_boards import BOARDS, UNLIKE

    shipped = ROOT / "demo_logs"
    names: dict[str, Callable[[], list[str]]] = {
        "session": lambda: sorted(path.parent.name for path in shipped.glob("*/datapackage.json")),
        "capture": lambda: sorted(path.name for path in shipped.glob("*_field_step.*")),
        "hand": lambda: list(_corpus("statistical/hand_error_table.py")["EFFECTS"]),
        "bench": lambda: [*BOARDS, *UNLIKE, *(f"{tau} {drive}" for tau in TAUS_S for drive in DRIVES_S)],
        "style": lambda: list(_styles()),
        "mixed": lambda: [str(seed) for seed in range(N_AT_RANDOM)],
        "log": lambda: [str(seed) for seed in range(N_AT_RANDOM)],
        "file": lambda: list(_table_files()),
    }
    return names[family]()


def _session(name: str) -> Any:
    from feelcheck import pipeline
    from feelcheck.renderers.hand_json import hand_json

    os.chdir(ROOT)
    return json.loads(hand_json([pipeline.analyze(Path("demo_logs") / name)]))


def _capture(name: str) -> Any:
    from feelcheck import pipeline
    from feelcheck.renderers.bench_json import bench_json

    os.chdir(ROOT)
    return json.loads(bench_json([pipeline.bench(Path("demo_logs") / name)]))


def _hand(effect: str) -> Any:
    from feelcheck import pipeline
    from feelcheck.renderers.hand_json import hand_json

    table = _corpus("statistical/hand_error_table.py")
    task = table["Task"](effect=effect, tau_s=0.005, seed=1, n_flicks=12, quantity="time_constant")
    return json.loads(hand_json([pipeline.analyze_recording(table["make"](task))]))


def _bench(name: str) -> Any:
    from feelcheck.bench import measure_response
    from feelcheck.renderers.bench_json import bench_json
    from feelcheck.testing.bench_boards import BOARDS, board, unlike_board
    from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, simulate_capture

    rng = np.random.default_rng(list(map(ord, name)))
    if " " not in name:
        world = board(name, rng) if name in BOARDS else unlike_board(rng, name)
    else:
        tau_s, drive_s = map(float, name.split())
        coil = Coil(rise_s=drive_s / 0.8, fall_s=drive_s / 0.8)
        world = BenchWorld(coil=coil, parts=Parts(poles_s=(tau_s,)), scope=Scope(noise_v=3e-3))
    return json.loads(bench_json([measure_response(simulate_capture(world, rng))]))


def _sight(values: Any) -> dict[str, Any]:
    """Return a hash of an array, and some of it to look at."""
    array = np.ascontiguousarray(values)
    ends = [*array[:2].tolist(), *array[-1:].tolist()]
    digest = hashlib.sha256(array.tobytes()).hexdigest()[:16]
    return {"type": str(array.dtype), "n": int(array.size), "ends": [repr(end) for end in ends], "sha256": digest}


def _of_captures(captures: Any) -> list[Any]:
    return [
        {
            "time": {**_sight(capture.t_s), "interval_s": capture.interval_s},
            "channels": [
                {"name": c.name, "unit": c.unit, "role": c.role, **_sight(c.values)} for c in capture.channels
            ],
            "told": {"understood": dict(capture.understood), "remarks": list(capture.provenance.remarks)},
        }
        for capture in captures
    ]


def _of_recording(recording: Any) -> dict[str, Any]:
    return {
        "streams": [
            {
                "name": s.name,
                "codes": _sight(s.codes),
                "time": _sight(s.time.t_s),
                "regular_interval_s": s.time.regular_interval_s,
                "scale": [s.scale.centre, s.scale.reach, s.scale.unit],
                "reports": s.reports,
            }
            for s in recording.streams
        ],
        "buttons": [[event.name, event.t_hi_s, event.value] for event in recording.buttons],
        "gaps": [[gap.start_s, gap.end_s] for gap in recording.gaps],
        "told": {"facts": dict(recording.provenance.facts), "remarks": list(recording.provenance.remarks)},
    }


def _refused(read: Callable[[], Any]) -> Any:
    try:
        return read()
    except FeelcheckError as problem:
        return {"refused": True, "told": {"sentence": str(problem)}}


def _style(name: str) -> Any:
    item = _styles()[name]
    read_style = _corpus("reference/capture_styles.py")["read_style"]
    return _refused(lambda: _of_captures(read_style(item, Path())))


def _mixed(seed: str) -> Any:
    from feelcheck.formats.scope import read_captures

    case = _corpus("properties/random_captures.py")["make"](int(seed))
    for name, data in case.files.items():
        Path(name).write_bytes(data)
    return _refused(lambda: _of_captures(read_captures(list(case.files))))


def _log(seed: str) -> Any:
    from feelcheck.formats.delimited import DelimitedReader

    log = _corpus("properties/random_logs.py")["make"](int(seed))
    Path("birch.csv").write_bytes(log.data)
    return _refused(lambda: _of_recording(DelimitedReader().read(Path("birch.csv"), **log.options)))


def _file(name: str) -> Any:
    from feelcheck.formats.delimited import DelimitedReader
    from feelcheck.formats.scope import claims, read_captures

    path = ROOT / name
    return {
        "claims": [DelimitedReader().claims(path), claims(path)],
        "capture": _refused(lambda: _of_captures(read_captures(path))),
        "log": _refused(lambda: _of_recording(DelimitedReader().read(path))),
    }


MAKERS: dict[str, Callable[[str], Any]] = {
    "session": _session,
    "capture": _capture,
    "hand": _hand,
    "bench": _bench,
    "style": _style,
    "mixed": _mixed,
    "log": _log,
    "file": _file,
}


def _made(task: tuple[str, str]) -> tuple[str, str, str]:
    """Return one item's JSON; it is made inside a folder of its own, so that no path of this machine gets into it."""
    family, name = task
    home = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        try:
            document = MAKERS[family](name)
        finally:
            os.chdir(home)
    return family, name, json.dumps(document, indent=1, sort_keys=True)


def _plain(name: str) -> str:
    return "".join(letter if letter.isalnum() or letter in "._-" else "_" for letter in name)


def write(folder: Path, families: list[str], every: int, jobs: int) -> int:
    """Write a set; return the number of items."""
    tasks = [(family, name) for family in families for name in items(family)[::every]]
    folder.mkdir(parents=True, exist_ok=True)
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        for done, (family, name, text) in enumerate(pool.imap_unordered(_made, tasks), 1):
            (folder / f"{family}--{_plain(name)}.json").write_text(text + "\n", encoding="utf-8")
            if done % 50 == 0 or done == len(tasks):
                sys.stdout.write(f"{done} of {len(tasks)} written, the last was {family} {name}\n")
                sys.stdout.flush()
    return len(tasks)


def flat(document: Any, place: str = "") -> dict[str, Any]:
    """Return the leaves of a document by their place in it."""
    if isinstance(document, dict) and document:
        return {k: v for key, inner in document.items() for k, v in flat(inner, f"{place}/{key}").items()}
    if isinstance(document, list) and document:
        return {k: v for n, inner in enumerate(document) for k, v in flat(inner, f"{place}/{n}").items()}
    return {place: document}


def differences(before: Any, after: Any, skip: str = "") -> list[str]:
    """Return each leaf that differs, in words; `skip` leaves out every place that holds that key."""
    one, other = flat(before), flat(after)
    return [
        f"{place}: {one.get(place, 'absent')!r} -> {other.get(place, 'absent')!r}"
        for place in dict.fromkeys([*one, *other])
        if one.get(place, "absent") != other.get(place, "absent") and not (skip and skip in place.split("/"))
    ]


def compare(before: Path, after: Path, skip: str = "", most: int = 12) -> int:
    """Print what differs between two sets; return how many items differ."""
    names = [{path.name for path in folder.glob("*.json")} for folder in (before, after)]
    for missing, where in ((names[1] - names[0], before), (names[0] - names[1], after)):
        if missing:
            sys.stdout.write(f"{len(missing)} items are not in {where}, such as {min(missing)}\n")
    n_different = 0
    for name in sorted(names[0] & names[1]):
        texts = [(folder / name).read_text(encoding="utf-8") for folder in (before, after)]
        found = [] if texts[0] == texts[1] else differences(json.loads(texts[0]), json.loads(texts[1]), skip)
        if found:
            n_different += 1
            more = [f"and {len(found) - most} more"] if len(found) > most else []
            sys.stdout.write("\n  ".join([f"{name}: {len(found)} differences", *found[:most], *more]) + "\n")
    sys.stdout.write(f"{len(names[0] & names[1])} items compared, {n_different} differ\n")
    return n_different


def main() -> int:
    """Write or compare; see the module."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    writing = commands.add_parser("write")
    writing.add_argument("folder", type=Path)
    writing.add_argument("--families", default=",".join(FAMILIES), help="some of them, joined by commas")
    writing.add_argument("--every", type=int, default=1, help="take only every so many items of each family")
    writing.add_argument("--jobs", type=int, default=2)
    comparing = commands.add_parser("compare")
    comparing.add_argument("before", type=Path)
    comparing.add_argument("after", type=Path)
    comparing.add_argument("--skip", default="", help="leave out what stands under this key, such as told")
    comparing.add_argument("--most", type=int, default=12, help="differences shown of one item")
    asked = parser.parse_args()
    if asked.command == "write":
        write(asked.folder, asked.families.split(","), asked.every, asked.jobs)
        return 0
    return min(1, compare(asked.before, asked.after, asked.skip, asked.most))


if __name__ == "__main__":
    sys.exit(main())
