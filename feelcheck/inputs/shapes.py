"""From a parsed document to typed values: the shape is a class, and msgspec holds the document against it."""

from __future__ import annotations

import re
from typing import Annotated, Any, TypeVar

from msgspec import Meta, ValidationError, convert

from feelcheck.errors import FeelcheckError, FormatError

__all__ = ["Label", "Length", "shaped"]

T = TypeVar("T")
Label = Annotated[str, Meta(max_length=200)]
"""A name that a person gives."""
Length = Annotated[str, Meta(max_length=500)]
"""A sentence that a person reads."""
_WHERE = re.compile(r" - at `\$\.?(.*)`$")


def shaped(
    document: Any, kind: type[T], where: object, sentence: str, *, error: type[FeelcheckError] = FormatError
) -> T:
    """Return a document as a value of a type.

    Parameters
    ----------
    document : object
        As parsed.
    kind : type
        A `msgspec.Struct`, its limits in the annotations.
    where : object
        Its file or name, for the message.
    sentence : str
        The rule that it breaks where it does not fit.
    error : type
        What is raised.

    Raises
    ------
    FeelcheckError
        Of the kind asked for, with the place and what was expected there.
    """
    try:
        return convert(document, kind)
    except ValidationError as problem:
        text = str(problem)
        place = _WHERE.search(text)
        facts = {"in": where, "at": place[1] if place else "the top", "reason": _WHERE.sub("", text).replace("`", "")}
        raise error(sentence, facts, "Mend it there.") from None
