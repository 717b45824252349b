"""A survey by the workers of a Dask cluster on this machine: a worker may die, the rows are the same."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import feelcheck
from feelcheck.errors import OutputError, SourceError

distributed = pytest.importorskip("distributed")
HERE = "127.0.0.1"


def _started(*words: str) -> subprocess.Popen[bytes]:
    env = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-m", "dask", *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=env
    )


@pytest.fixture
def cluster() -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """A scheduler and two workers with one thread each, on loopback only."""
    with socket.socket() as free:
        free.bind((HERE, 0))
        port = free.getsockname()[1]
    address = f"tcp://{HERE}:{port}"
    scheduler = _started("scheduler", "--host", HERE, "--port", str(port), "--no-dashboard")
    worker = ("worker", address, "--host", HERE, "--nthreads", "1", "--no-nanny", "--no-dashboard")
    workers = [_started(*worker) for _ in range(2)]
    with distributed.Client(address, timeout="120s") as client:
        client.wait_for_workers(2, timeout=120)
    yield address, workers
    for process in (*workers, scheduler):
        process.kill()
        process.wait()


def _captures(folder: Path) -> Path:
    folder.mkdir()
    k = np.arange(300)
    for seed, name in enumerate(("alder", "birch", "cedar", "elm", "fir", "hazel")):
        rising = np.where(k < 60, 0.0, 1.0 - np.exp(-(k - 60) / (10.0 + seed)))
        noisy = np.round(rising + np.random.default_rng(seed).normal(0.0, 0.002, k.size), 4)
        frame = pd.DataFrame({"t (ms)": k / 5, "coil (A)": (k >= 60) * 1.0, "output (V)": noisy})
        frame.to_csv(folder / f"{name}.csv", index=False)
    (folder / "bad.csv").write_text("The pad came back on Tuesday.\n")
    return folder


def test_a_worker_dies_and_the_rows_are_the_same(
    cluster: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    address, workers = cluster
    captures = _captures(tmp_path / "captures")
    seen: list[Any] = []

    def kill_one(now: Any) -> None:
        seen.append(now)
        if now.done == 2:
            workers[0].send_signal(signal.SIGKILL)

    by_many = feelcheck.survey(captures, tmp_path / "t.parquet", dask=address, progress=kill_one)
    assert workers[0].wait(timeout=120) == -signal.SIGKILL
    assert (by_many.n_measured, by_many.n_left, len(seen)) == (7, 0, 7)
    feelcheck.survey(captures, tmp_path / "one.csv", jobs=1)
    expected = (tmp_path / "one.csv").read_text()
    assert (tmp_path / "t.parquet").is_dir()
    assert pd.read_parquet(tmp_path / "t.parquet").to_csv(index=False) == expected
    again = feelcheck.survey(captures, tmp_path / "t.parquet", dask=address)
    assert (again.n_measured, again.n_unchanged) == (0, 7)
    (tmp_path / "t.parquet" / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match="not of a folder"):
        feelcheck.survey(captures, tmp_path / "t.parquet", jobs=1)


def test_a_cluster_that_is_not_there_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def nobody(*_: Any, **__: Any) -> None:
        raise OSError("Timed out trying to connect")

    monkeypatch.setattr(distributed, "Client", nobody)
    with pytest.raises(SourceError, match=r"(?s)does not answer.*dask scheduler"):
        feelcheck.survey(tmp_path, tmp_path / "t.csv", dask="tcp://127.0.0.1:9")
