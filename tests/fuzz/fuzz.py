"""Feed spoilt input to every reader and command, each under guards of time and memory; print a table.

``python tests/fuzz/fuzz.py 0 100000 --notes done.jsonl`` runs the seeds from 0 up to 100000; stopped and run again, it
goes on where it was, from the notes; a seed that went wrong is fed again. A single seed shows what went wrong:
``python tests/fuzz/fuzz.py 4711``. ``--faults`` runs the tests of faults too, those behind the mark ``full`` as well;
with ``--page DEVELOPERS.md`` the tables are put there.
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
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parent))

PROCESSOR_S, WALL_S, STARTING_S, MEMORY_BYTES = 20, 900, 600, 3 * 2**30
IN_MEMORY = Path("/dev/shm")
"""Where the inputs lie, where there is such a place: a disk would take a tenth of the time."""
BEGIN, END = "<!-- the table of tests/fuzz/fuzz.py -->", "<!-- its end -->"


def _spent(*_: object) -> None:
    raise TimeoutError(f"more than {PROCESSOR_S} s of processor time")


def fed(seed: int) -> dict[str, Any]:
    """Feed one seed here; return what was fed, how it ended, the seconds of processor time and the place of a fault."""
    from targets import name_of, one

    folder = Path(tempfile.mkdtemp(prefix="fuzz", dir=IN_MEMORY if IN_MEMORY.is_dir() else None)) / "S"
    folder.mkdir()
    begun_s = time.process_time()
    signal.signal(signal.SIGVTALRM, _spent)
    signal.setitimer(signal.ITIMER_VIRTUAL, PROCESSOR_S)
    name, fault = name_of(seed), ""
    try:
        ended = one(seed, folder)
    except BaseException as problem:
        if isinstance(problem, KeyboardInterrupt):
            raise
        frames = [f for f in traceback.extract_tb(problem.__traceback__) if "/feelcheck/" in f.filename]
        at = f"{frames[-1].filename.rpartition('/feelcheck/')[2]}:{frames[-1].lineno}" if frames else "?"
        ended, fault = "fault", f"{type(problem).__name__} at {at}: {str(problem)[:160]}"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        shutil.rmtree(folder.parent, ignore_errors=True)
    return {"seed": seed, "name": name, "ended": ended, "fault": fault, "s": time.process_time() - begun_s}


def _work(seeds: Sequence[int], pipe: Any) -> None:
    logging.disable(logging.CRITICAL)
    import targets

    from feelcheck import plugins

    plugins.surveyed = cache(plugins.surveyed)  # what is installed stays so meanwhile

    pipe.send(f"ready with {len(targets.TARGETS)} targets")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    for seed in seeds:
        pipe.send(seed)
        pipe.send(fed(seed))


def guarded(seeds: Sequence[int]) -> Iterator[dict[str, Any]]:
    """Yield the result of every seed, each in a process that is ended when it hangs or takes too much."""
    left = list(seeds)
    while left:
        ours, theirs = mp.Pipe()
        worker = mp.get_context("fork").Process(target=_work, args=(tuple(left), theirs))
        worker.start()
        theirs.close()
        try:
            if not ours.poll(STARTING_S):
                raise TimeoutError(f"not begun within {STARTING_S} s")
            while left:
                if not ours.poll(WALL_S):
                    raise TimeoutError(f"no answer within {WALL_S} s")
                message = ours.recv()
                if isinstance(message, dict):
                    del left[0]
                    yield message
        except (EOFError, TimeoutError) as problem:
            why = str(problem) or "the process ended by itself"
            fault = f"{type(problem).__name__}: {why}"
            yield {"seed": left[0], "name": "?", "ended": "fault", "fault": fault, "s": float(WALL_S)}
            del left[0]
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


def main() -> int:
    """Run the seeds that are asked for; the exit code is 1 where there was a fault."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("first", type=int, nargs="?", default=0)
    asked.add_argument("stop", type=int, nargs="?")
    asked.add_argument("--notes", type=Path)
    asked.add_argument("--page", type=Path)
    asked.add_argument("--faults", action="store_true")
    given = asked.parse_args()
    results = _kept(given.notes)
    seeds = range(given.first, given.stop if given.stop is not None else given.first + 1)
    done = {result["seed"] for result in results}
    for result in guarded([seed for seed in seeds if seed not in done]):
        results.append(result)
        if given.notes:
            with given.notes.open("a") as notes:
                notes.write(json.dumps(result) + "\n")
        if result["fault"]:
            print(f"seed {result['seed']} ({result['name']}): {result['fault']}", flush=True)
        elif result["seed"] % 500 == 0:
            print(f"{result['seed'] - seeds.start} of {len(seeds)}", file=sys.stderr, flush=True)
    faults = [result for result in results if result["fault"]]
    text = table(results)
    if given.faults:
        from fault_table import fault_table

        told, n_failed = fault_table()
        text, faults = f"{text}\n\n{told}", [*faults, *range(n_failed)]
    print(text)
    if given.page:
        _written(given.page, text)
    return 1 if faults else 0


def _kept(notes: Path | None) -> list[dict[str, Any]]:
    """What the notes say of seeds that went well; the others are fed again."""
    if notes is None or not notes.exists():
        return []
    results = [json.loads(line) for line in notes.read_text().splitlines()]
    last = {result["seed"]: result for result in results}
    return [result for result in last.values() if not result["fault"]]


if __name__ == "__main__":
    sys.exit(main())
