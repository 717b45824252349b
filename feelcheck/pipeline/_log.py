"""Recording a session, and exporting one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from feelcheck.formats.export import write_wide
from feelcheck.pipeline._hand import read
from feelcheck.recorder import Face, Progress, record_session, resume_session
from feelcheck.sources.choice import automatic_source

__all__ = ["export", "log", "resume"]


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
    facts: Mapping[str, str] | Callable[[], Mapping[str, str]] | None = None,
    progress: Callable[[Progress], None] | None = None,
    face: Callable[[], Face] | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> Path:
    """Record a session and return its folder; see `feelcheck.recorder.record_session`.

    `tell` takes one line about the source that was chosen where `source` is ``"auto"``, and one about the pad.
    """
    if source == "auto":
        source, why = automatic_source(device)
        tell(f"Source: {source}, since {why}.")
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
        face=face,
        tell=tell,
    )


def resume(
    session: Path | str,
    *,
    script: str = "",
    device: str = "",
    low_power: bool = False,
    progress: Callable[[Progress], None] | None = None,
    face: Callable[[], Face] | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> Path:
    """Go on with a session that was left; see `feelcheck.recorder.resume_session`."""
    return resume_session(
        session, script=script, device=device, low_power=low_power, progress=progress, face=face, tell=tell
    )


def export(session: Path, out: Path, *, overwrite: bool = False) -> Path:
    """Write a session, a log or a scope capture as a wide table and return its path.

    Raises
    ------
    OutputError
        If the table may not go there: `overwrite` allows to replace an older CSV file, but never what is read.
    """
    from feelcheck.pipeline._captures import capture_claim, captures_of
    from feelcheck.pipeline._specimens import LIKELY_CAPTURE

    session = Path(session)
    captured = session.is_file() and capture_claim(session) > LIKELY_CAPTURE
    exported = captures_of([session]) if captured else read(session)
    write_wide(exported, out, inputs=(session,), overwrite=overwrite)
    return out
