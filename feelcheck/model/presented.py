"""What every result can show of itself; the renderers that do it load when they are asked."""

from __future__ import annotations

import copyreg
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

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


class Results(Presented, tuple[_Result, ...]):
    """Several results of one kind, in the order of what was given.

    Examples
    --------
    >>> len(Results(()))
    0
    """

    __slots__ = ()
