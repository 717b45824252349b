"""Feed spoilt input to every reader and command, each under guards of time and memory; print a table.

``python tests/fuzz/fuzz.py 0 100000 --notes done.jsonl`` runs the seeds from 0 up to 100000; stopped and run again, it
goes on where it was, from the notes. A single seed shows what went wrong: ``python tests/fuzz/fuzz.py 4711``. With
``--page DEVELOPERS.md`` the table is put there; ``--guided NAME`` lets atheris look for new paths through one of the
readers instead, for ``--seconds``.
"""

from __future__ import annotations

import argparse
import json
import logging
import multiprocessing as mp
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parent))

PROCESSOR_S, WALL_S, STARTING_S, MEMORY_BYTES = 20, 300, 600, 3 * 2**30
BEGIN, END = "<!-- the table of tests/fuzz/fuzz.py -->", "<!-- its end -->"


def _spent(*_: object) -> None:
    raise TimeoutError(f"more than {PROCESSOR_S} s of processor time")


def fed(seed: int) -> dict[str, Any]:
    """Feed one seed here; return what was fed, how it ended, the seconds of processor time and the place of a fault."""
    from targets import one

    folder = Path(tempfile.mkdtemp(prefix="fuzz")) / "S"
    folder.mkdir()
    begun_s = time.process_time()
    signal.signal(signal.SIGVTALRM, _spent)
    signal.setitimer(signal.ITIMER_VIRTUAL, PROCESSOR_S)
    try:
        name, ended = one(seed, folder)
        fault = ""
    except BaseException as problem:
        if isinstance(problem, KeyboardInterrupt):
            raise
        from targets import TARGETS

        frames = [f for f in traceback.extract_tb(problem.__traceback__) if "/feelcheck/" in f.filename]
        at = f"{frames[-1].filename.rpartition('/feelcheck/')[2]}:{frames[-1].lineno}" if frames else "?"
        import random

        name = random.Random(seed).choices(list(TARGETS), weights=[s for _, s in TARGETS.values()])[0]
        ended, fault = "fault", f"{type(problem).__name__} at {at}: {str(problem)[:160]}"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        shutil.rmtree(folder.parent, ignore_errors=True)
    return {"seed": seed, "name": name, "ended": ended, "fault": fault, "s": time.process_time() - begun_s}


def _work(seeds: range, pipe: Any) -> None:
    logging.disable(logging.CRITICAL)
    import targets

    pipe.send(f"ready with {len(targets.TARGETS)} targets")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    for seed in seeds:
        pipe.send(seed)
        pipe.send(fed(seed))


def guarded(seeds: range) -> Iterator[dict[str, Any]]:
    """Yield the result of every seed, each in a process that is ended when it hangs or takes too much."""
    at = seeds.start
    while at < seeds.stop:
        ours, theirs = mp.Pipe()
        worker = mp.get_context("fork").Process(target=_work, args=(range(at, seeds.stop), theirs))
        worker.start()
        theirs.close()
        try:
            if not ours.poll(STARTING_S):
                raise TimeoutError(f"not begun within {STARTING_S} s")
            while at < seeds.stop:
                if not ours.poll(WALL_S):
                    raise TimeoutError(f"no answer within {WALL_S} s")
                message = ours.recv()
                if isinstance(message, dict):
                    yield message
                    at = message["seed"] + 1
        except (EOFError, TimeoutError) as problem:
            why = str(problem) or "the process ended by itself"
            fault = f"{type(problem).__name__}: {why}"
            yield {"seed": at, "name": "?", "ended": "fault", "fault": fault, "s": float(WALL_S)}
            at += 1
        finally:
            worker.kill()
            worker.join()
            ours.close()


def table(results: list[dict[str, Any]]) -> str:
    """Return counts by what was fed as a table in Markdown."""
    lines = ["| fed | inputs | taken | refused in words | faults | longest, s |", "|---|---|---|---|---|---|"]
    names = sorted({result["name"] for result in results})
    for name in [*names, "all"]:
        mine = [result for result in results if name in ("all", result["name"])]
        ended = Counter(result["ended"] for result in mine)
        longest = max(result["s"] for result in mine)
        cells = (name, len(mine), ended["taken"], ended["refused"], ended["fault"], f"{longest:.1f}")
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines)


def _written(page: Path, text: str) -> None:
    before = page.read_text(encoding="utf-8")
    head, _, rest = before.partition(BEGIN)
    page.write_text(head + BEGIN + "\n" + text + "\n" + END + rest.partition(END)[2], encoding="utf-8")


def _guided(name: str, seconds: int) -> None:
    """Let atheris change the bytes that a reader's generator draws from, guided by the lines that are reached."""
    import atheris

    with atheris.instrument_imports(include=["feelcheck"]):
        from targets import TARGETS
    from feelcheck.errors import FeelcheckError

    def feed(data: bytes) -> None:
        import random

        folder = Path(tempfile.mkdtemp(prefix="fuzz"))
        try:
            TARGETS[name][0](folder, random.Random(data))
        except FeelcheckError:
            pass
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-timeout=20", "-rss_limit_mb=3000"], feed)
    atheris.Fuzz()


def main() -> int:
    """Run the seeds that are asked for; the exit code is 1 where there was a fault."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("first", type=int, nargs="?", default=0)
    asked.add_argument("stop", type=int, nargs="?")
    asked.add_argument("--notes", type=Path)
    asked.add_argument("--page", type=Path)
    asked.add_argument("--guided", default="")
    asked.add_argument("--seconds", type=int, default=60)
    given = asked.parse_args()
    if given.guided:
        _guided(given.guided, given.seconds)
    results: list[dict[str, Any]] = []
    if given.notes and given.notes.exists():
        results = [json.loads(line) for line in given.notes.read_text().splitlines()]
    done = {result["seed"] for result in results}
    first, stop = given.first, given.stop if given.stop is not None else given.first + 1
    while first in done:
        first += 1
    for result in guarded(range(first, stop)):
        results.append(result)
        if given.notes:
            with given.notes.open("a") as notes:
                notes.write(json.dumps(result) + "\n")
        if result["fault"]:
            print(f"seed {result['seed']} ({result['name']}): {result['fault']}", flush=True)
        elif result["seed"] % 500 == 0:
            print(f"{result['seed'] - given.first} of {stop - given.first}", file=sys.stderr, flush=True)
    text = table(results)
    print(text)
    if given.page:
        _written(given.page, text)
    return 1 if any(result["fault"] for result in results) else 0


if __name__ == "__main__":
    sys.exit(main())
