"""TOML and JSON with limits that are told: how deep, how long, how many, and only numbers that are some."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Callable
from typing import Any

from feelcheck.errors import FeelcheckError, FormatError

__all__ = ["json_document", "toml_document", "within_limits"]

DEEPEST = 32
LONGEST_TEXT = 20_000
MOST_VALUES = 500_000
LARGEST_INTEGER = 2**63


def toml_document(text: str, where: object, *, error: type[FeelcheckError] = FormatError) -> dict[str, Any]:
    """Return what a TOML text holds.

    Parameters
    ----------
    text : str
        The text.
    where : object
        Its file or name, for the message.
    error : type
        What is raised.

    Raises
    ------
    FeelcheckError
        Of the kind asked for, if it is no TOML or goes over a limit.
    """
    document: dict[str, Any] = _parsed(lambda: tomllib.loads(text), "TOML", where, error)
    return document


def json_document(data: bytes, where: object, *, error: type[FeelcheckError] = FormatError) -> Any:
    """Return what a JSON document in UTF-8 holds; parameters and errors as those of `toml_document`.

    Parameters
    ----------
    data : bytes
        The document, UTF-8.
    where : object
        The file, for messages.
    error : type of FeelcheckError, optional
        Raised with what is wrong.
    """
    return _parsed(lambda: json.loads(data.decode("utf-8")), "JSON", where, error)


def _parsed(parse: Callable[[], Any], kind: str, where: object, error: type[FeelcheckError]) -> Any:
    try:
        document = parse()
    except RecursionError:
        raise _too_much("nests", f"at most {DEEPEST} levels", where, error) from None
    except ValueError as problem:
        reason = str(problem).partition(";")[0]  # Python's own advice on long numbers is not for users
        raise error(f"This is no valid {kind}.", {"file": where, "got": reason[:300]}, "Mend the line named.") from None
    within_limits(document, where, error=error)
    return document


def within_limits(document: Any, where: object, *, error: type[FeelcheckError] = FormatError) -> None:
    """Refuse a document that nests too deep, holds too much, or holds numbers that are none.

    Parameters
    ----------
    document : object
        Tables, lists, texts, numbers, as parsed.
    where : object
        Its file or name, for the message.
    error : type
        What is raised.

    Raises
    ------
    FeelcheckError
        Of the kind asked for, with the limit.
    """
    level, depth, n_values = [document], 0, 0
    while level:
        depth, n_values = depth + 1, n_values + len(level)
        if depth > DEEPEST:
            raise _too_much("nests", f"at most {DEEPEST} levels", where, error)
        if n_values > MOST_VALUES:
            raise _too_much("holds too much", f"at most {MOST_VALUES} values", where, error)
        below: list[Any] = []
        for value in level:
            below.extend(_inside(value, where, error))
        level = below


def _inside(value: Any, where: object, error: type[FeelcheckError]) -> list[Any]:
    if isinstance(value, dict):
        return [*value.keys(), *value.values()]
    if isinstance(value, list):
        return value
    if isinstance(value, str) and len(value) > LONGEST_TEXT:
        raise _too_much("holds a long text", f"at most {LONGEST_TEXT} characters", where, error)
    if isinstance(value, int) and not -LARGEST_INTEGER <= value < LARGEST_INTEGER:
        raise _too_much("holds a long number", "whole numbers of 64 bits", where, error)
    if isinstance(value, float) and not math.isfinite(value):
        raise error("A number must be finite.", {"file": where, "got": value}, "Leave out what is not known.")
    return []


def _too_much(what: str, allowed: str, where: object, error: type[FeelcheckError]) -> FeelcheckError:
    facts = {"file": where, "allowed": allowed}
    return error(f"The document {what} beyond what is read.", facts, "Check that it is the right file.")
