"""What every result can show of itself; the renderers that do it load when they are asked."""

from __future__ import annotations

import copyreg
import reprlib
from collections.abc import Sized
from dataclasses import fields
from importlib import import_module
from pathlib import PurePath
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from feelcheck.model.estimate import Estimate

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Presented", "Results"]

_RENDERER = "feelcheck.renderers.presented"
_Result = TypeVar("_Result", bound="Presented")


def _frozen(mapping: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(mapping)


def _thawed(mapping: MappingProxyType[Any, Any]) -> tuple[Any, tuple[dict[Any, Any]]]:
    return _frozen, (dict(mapping),)


# Read-only mappings are part of most results; the standard library cannot pickle them by itself.
copyreg.pickle(MappingProxyType, _thawed)


class Presented:
    """A result as a table, as its JSON document and as what a notebook displays.

    Notes
    -----
    The model knows no renderer: it is named here and imported when a method is called.
    """

    __slots__ = ()

    def __init_subclass__(cls) -> None:
        """Keep the brief form: a result's own would print every sample that it holds."""
        if "__repr__" not in vars(cls):
            cls.__repr__ = Presented.__repr__  # type: ignore[method-assign]

    def __repr__(self) -> str:
        held = [f"{field.name}={_brief(getattr(self, field.name))}" for field in fields(self)]  # type: ignore[arg-type]
        return f"{type(self).__name__}({', '.join(held)})"

    def to_frame(self) -> pd.DataFrame:
        """Return a pandas table: of most results one row a quantity with its 95 % interval, unit and status."""
        frame: pd.DataFrame = import_module(_RENDERER).frame_of(self)
        return frame

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document: what ``--json`` prints."""
        document: dict[str, Any] = import_module(_RENDERER).document_of(self)
        return document

    def _repr_html_(self) -> str:
        """Return tables with intervals and the figure, as a notebook displays a result."""
        shown: str = import_module(_RENDERER).html_of(self)
        return shown


def _brief(value: Any) -> str:
    """Return a short value as it is, of a collection how much it holds, of anything else what it is."""
    if isinstance(value, Estimate):
        return f"<{value.status}>" if value.value is None else f"<{value.value:.4g} {value.unit}>"
    if value is None or isinstance(value, str | int | float | PurePath):
        return reprlib.repr(value)
    if isinstance(value, Sized):
        return f"<{len(value)} entries>"
    return f"<{type(value).__name__}>"


class Results(Presented, tuple[_Result, ...]):
    """Several results of one kind, in the order of what was given.

    Examples
    --------
    >>> len(Results(()))
    0
    """

    __slots__ = ()

    def __repr__(self) -> str:
        return f"Results({', '.join(map(repr, self))})"
