"""Recording a session, and exporting one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from feelcheck.formats.export import write_wide
from feelcheck.pipeline._hand import read_log
from feelcheck.recorder import Progress, record_session

__all__ = ["export", "log"]


def log(
    specimen: str,
    *,
    state: str = "as_found",
    script: str = "default",
    source: str = "auto",
    simulate: str = "",
    seconds: float | None = None,
    out: Path | str = ".",
    seed: int = 0,
    device: str = "",
    low_power: bool = False,
    operator: str = "",
    facts: Mapping[str, str] | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Path:
    """Record a session and return its folder; see `feelcheck.recorder.record_session`."""
    return record_session(
        specimen=specimen,
        state=state,
        script=script,
        source=source,
        simulate=simulate,
        seconds=seconds,
        out=out,
        seed=seed,
        device=device,
        low_power=low_power,
        operator=operator,
        facts=facts,
        progress=progress,
    )


def export(session: Path, out: Path) -> Path:
    """Write a session (or any log that can be read) as a wide table and return its path."""
    write_wide(read_log(session), out)
    return out
