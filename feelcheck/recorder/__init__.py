"""A flick script run against any source: a session on disk, whatever happens on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from feelcheck.recorder.guided import Face
    from feelcheck.recorder.script_files import load_script, script_names
    from feelcheck.recorder.session import Progress, record_session, resume_session

__all__ = ["Face", "Progress", "load_script", "record_session", "resume_session", "script_names"]


def __getattr__(name: str) -> Any:
    # Loaded on demand: the capture process lives in this package and must stay light.
    if name in ("load_script", "script_names"):
        from feelcheck.recorder import script_files

        return getattr(script_files, name)
    if name in ("Progress", "record_session", "resume_session"):
        from feelcheck.recorder import session

        return getattr(session, name)
    if name == "Face":
        from feelcheck.recorder import guided

        return guided.Face
    raise AttributeError(name)
