"""What a specimen is called in one of its states."""

from __future__ import annotations

__all__ = ["AS_FOUND", "STATE_MARK", "base_of", "specimen_label"]

AS_FOUND = "as_found"
STATE_MARK = "@"


def specimen_label(specimen: str, state: str) -> str:
    """Return a specimen with its state; as found, or without a state, its name alone.

    Parameters
    ----------
    specimen, state : str
        As records and sessions name them.

    Examples
    --------
    >>> specimen_label("cedar", "c3_lifted"), specimen_label("birch", "as_found")
    ('cedar@c3_lifted', 'birch')
    """
    return specimen if state in ("", AS_FOUND) else f"{specimen}{STATE_MARK}{state}"


def base_of(label: str) -> str:
    """Return a specimen's name without its state.

    Parameters
    ----------
    label : str
        As `specimen_label` gives it.

    Examples
    --------
    >>> base_of("cedar@c3_lifted")
    'cedar'
    """
    return label.partition(STATE_MARK)[0]
