"""Where files are measured: in this process, in several on this machine, or by the workers of a cluster."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol

from feelcheck.errors import SourceError

__all__ = ["Engine", "engine_of"]

Work = Callable[[Any], Any]


class Engine(Protocol):
    """Runs one function over many tasks and yields the results as they come, in any order."""

    n_workers: int

    def run(self, work: Work, tasks: Sequence[Any], lost: Work) -> Iterator[Any]:
        """Yield ``work(task)`` of every task; ``lost(task)`` of one whose process died of it.

        Parameters
        ----------
        work : callable
            Takes a task, returns its result; it must travel between processes.
        tasks : sequence
            One call each.
        lost : callable
            Takes a task, returns what stands in for its result.
        """


def engine_of(*, jobs: int | None = None, dask: str = "", n_tasks: int = 1) -> Engine:
    """Return where tasks run.

    Parameters
    ----------
    jobs : int, optional
        Processes on this machine; as many as there are processors if not given, never more than tasks.
    dask : str
        Address of a cluster's scheduler (``tcp://127.0.0.1:8786``); empty for this machine.
    n_tasks : int
        How many tasks there will be.

    Raises
    ------
    SourceError
        If the cluster does not answer, or its library is missing.
    """
    if dask:
        return _Cluster(dask)
    wanted = jobs or len(os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else range(os.cpu_count() or 1))
    n_workers = max(1, min(wanted, n_tasks))
    return _Here() if n_workers == 1 else _Processes(n_workers)


class _Here:
    """In the process that asks."""

    n_workers = 1

    def run(self, work: Work, tasks: Sequence[Any], lost: Work) -> Iterator[Any]:  # noqa: ARG002
        yield from map(work, tasks)


class _Processes:
    """Several processes of this machine, through joblib."""

    def __init__(self, n_workers: int) -> None:
        self.n_workers = n_workers

    def run(self, work: Work, tasks: Sequence[Any], lost: Work) -> Iterator[Any]:
        """Go on after a process died: what was under way then is done one by one, to find the one that kills.

        Notes
        -----
        joblib keeps up to twice as many tasks under way as there are processes.
        """
        from joblib.externals.loky.process_executor import TerminatedWorkerError

        left = list(enumerate(tasks))
        while left:
            done: set[int] = set()
            try:
                for k, result in self._parallel(work, left):
                    done.add(k)
                    yield result
                return
            except TerminatedWorkerError:
                left = [pair for pair in left if pair[0] not in done]
            suspects, left = left[: 2 * self.n_workers], left[2 * self.n_workers :]
            yield from (_alone(work, task, lost) for _, task in suspects)

    def _parallel(self, work: Work, pairs: Sequence[tuple[int, Any]]) -> Iterator[tuple[int, Any]]:
        from joblib import Parallel, delayed, parallel_config

        with parallel_config("loky", inner_max_num_threads=1):
            pool = Parallel(
                n_jobs=self.n_workers, return_as="generator_unordered", pre_dispatch="2*n_jobs", batch_size=1
            )
            results = pool(delayed(_numbered)(work, k, task) for k, task in pairs)
        try:
            yield from results
        except BaseException:  # Ctrl-C, also where the reader of the results was when it came
            _stop_processes()
            raise


def _numbered(work: Work, k: int, task: Any) -> tuple[int, Any]:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return k, work(task)


def _alone(work: Work, task: Any, lost: Work) -> Any:
    from joblib.externals.loky import ProcessPoolExecutor
    from joblib.externals.loky.process_executor import BrokenProcessPool

    with ProcessPoolExecutor(max_workers=1) as pool:
        try:
            return pool.submit(work, task).result()
        except BrokenProcessPool:
            return lost(task)


def _stop_processes() -> None:
    from joblib.externals.loky import get_reusable_executor

    get_reusable_executor().shutdown(wait=False, kill_workers=True)


class _Cluster:
    """The workers of a Dask cluster: they read the files themselves."""

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise SourceError(
                "A cluster needs a library that is not installed.",
                {"asked for": address},
                "Install it with: pip install 'feelcheck[dask]'",
            ) from None
        try:
            client: Any = Client(address, timeout="10s")  # type: ignore[no-untyped-call]
            client.wait_for_workers(1, timeout=30)
        except (OSError, ValueError, TimeoutError) as problem:
            raise SourceError(
                "The cluster does not answer.",
                {"address": address, "reason": str(problem)[:200]},
                "Start it with: dask scheduler, and on each machine: dask worker ADDRESS",
            ) from None
        self._client: Any = client
        self.n_workers = max(1, sum(client.nthreads().values()))

    def run(self, work: Work, tasks: Sequence[Any], lost: Work) -> Iterator[Any]:
        """Yield results as they come; the scheduler gives a dead worker's tasks to another one."""
        from distributed import KilledWorker, as_completed

        with self._futures(work, tasks) as by_key:
            for future in as_completed(list(by_key.values())):  # type: ignore[no-untyped-call]
                try:
                    yield future.result()
                except KilledWorker:
                    yield lost(tasks[next(k for k, own in by_key.items() if own.key == future.key)])
                finally:
                    future.release()

    @contextmanager
    def _futures(self, work: Work, tasks: Sequence[Any]) -> Iterator[dict[int, Any]]:
        futures = self._client.map(work, tasks, pure=False, batch_size=1000)
        by_key = dict(enumerate(futures))
        del futures
        try:
            yield by_key
        except BaseException:
            self._client.cancel(list(by_key.values()), force=True)
            raise
        finally:
            self._client.close(timeout=5)
