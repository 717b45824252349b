"""What a person was asked once about a stick and need not be asked again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from feelcheck.formats.session_shelf import last_session

__all__ = ["QUESTIONS", "questions_left", "remembered_facts"]

QUESTIONS: Mapping[str, str] = {
    "connection": "How is the pad connected (cable or radio)?",
    "firmware": "Which firmware does the pad run?",
    "cap": "Which cap is on the stick?",
    "spring": "Which spring is in the stick?",
    "recalibrated": "Was the pad recalibrated since the last change (yes or no)?",
}
"""The facts that two recordings must share to be comparable, with the question for each."""

_OF_ONE_STATE = ("recalibrated",)


def remembered_facts(shelf: Path, *, specimen: str, state: str) -> dict[str, str]:
    """Return what the last session of a specimen knew, without what belongs to another state.

    Parameters
    ----------
    shelf : Path
        Folder of sessions.
    specimen, state : str
        Labels of the session to come.

    Returns
    -------
    dict
        Fact by key, of `QUESTIONS`; empty where the specimen is new.
    """
    last = last_session(shelf, specimen=specimen, simulated=False)
    if last is None:
        return {}
    left_out = () if last.state == state else _OF_ONE_STATE
    return {key: last.facts[key] for key in QUESTIONS if key in last.facts and key not in left_out}


def questions_left(shelf: Path, *, specimen: str, state: str) -> dict[str, str]:
    """Return what was not asked yet: everything of a new specimen, else what belongs to a new state.

    Parameters
    ----------
    shelf : Path
        Folder of sessions.
    specimen, state : str
        Labels of the session to come.
    """
    last = last_session(shelf, specimen=specimen, simulated=False)
    if last is None:
        return dict(QUESTIONS)
    return {} if last.state == state else {key: QUESTIONS[key] for key in _OF_ONE_STATE}
