"""What the entry point settles before anything heavy is imported."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Iterator

import pytest

from feelcheck.__main__ import main

ENDING = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


@pytest.fixture(autouse=True)
def kept_thresholds() -> Iterator[None]:
    before = gc.get_threshold()
    handlers = {number: signal.getsignal(number) for number in ENDING}
    yield
    gc.set_threshold(*before)
    for number, handler in handlers.items():
        signal.signal(number, handler)


@pytest.mark.parametrize(("set_before", "expected"), [(None, "1"), ("3", "3")])
def test_one_thread_unless_a_number_is_set(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], set_before: str | None, expected: str
) -> None:
    ignored = {number for number in ENDING if signal.getsignal(number) is signal.SIG_IGN}  # a run in the background
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", set_before or "")
    if set_before is None:
        monkeypatch.delenv("OPENBLAS_NUM_THREADS")
    monkeypatch.setattr(sys, "argv", ["feelcheck", "--version"])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 0
    assert os.environ["OPENBLAS_NUM_THREADS"] == expected
    assert gc.get_threshold()[0] > 10_000
    assert capsys.readouterr().out.strip()
    assert {number for number in ENDING if signal.getsignal(number) is signal.SIG_IGN} == ignored


def test_closed_streams_are_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["feelcheck", "guide", "lag"])
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 0
