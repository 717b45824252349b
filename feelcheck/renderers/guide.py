"""The guides: how to record in the hand, how to time a stick, how to measure on the bench, how to rehearse."""

from __future__ import annotations

from importlib import resources

from feelcheck.errors import FeelcheckError

__all__ = ["GUIDES", "guide_text"]

GUIDES = ("hand", "lag", "bench", "rehearse")


def guide_text(name: str) -> str:
    """Return a guide.

    Parameters
    ----------
    name : str
        Name of the guide.

    Raises
    ------
    FeelcheckError
        If there is no guide of that name.
    """
    if name not in GUIDES:
        facts = {"got": name, "allowed": ", ".join(GUIDES)}
        raise FeelcheckError("There is no guide of that name.", facts, "Name one of them.")
    return resources.files("feelcheck.renderers").joinpath(f"guides/{name}.txt").read_text(encoding="utf-8").rstrip()
