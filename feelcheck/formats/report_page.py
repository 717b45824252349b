"""A report page read back: the data that it carries, the text and pictures that it shows, what it was made from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Annotated, Any, Literal

from msgspec import Meta, Struct, field, structs

from feelcheck.errors import FormatError
from feelcheck.inputs import file_bytes, json_document, shaped
from feelcheck.model import Evidence, Making, Play
from feelcheck.outputs import REPORT_PAGE, form_made

__all__ = ["DATA_ID", "ReportPage", "read_report_page"]

DATA_ID = "feelcheck-data"
MOST_BYTES = 2**27
_PICTURE = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
_AGAIN = "Make the page again with: feelcheck report"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportPage:
    """What a page holds.

    Parameters
    ----------
    text : str
        The page as it stands, lines ended by line feeds.
    document : Mapping[str, Any]
        The data that it carries.
    making : Making
        What it was made from.
    voucher : str
        How it vouches for tables beside it.
    passages, pictures : tuple of str
        The text that it shows, piece by piece, and its pictures.
    """

    text: str
    document: Mapping[str, Any]
    making: Making
    voucher: str
    passages: tuple[str, ...]
    pictures: tuple[str, ...]

    @classmethod
    def of(cls, text: str, making: Making, document: Mapping[str, Any], reader: _Reader) -> ReportPage:
        """Return a page from its text and what was read in it.

        Parameters
        ----------
        text : str
            The page as it stands.
        making : Making
            What it was made from.
        document : Mapping[str, Any]
            The data that it carries.
        reader : HTMLParser
            Has read the page: its passages and its voucher.
        """
        return cls(
            text=text, document=document, making=making, voucher=reader.voucher, passages=tuple(reader.passages),
            pictures=tuple(_PICTURE.findall(text)),
        )  # fmt: skip

    def drawn(self, text: str) -> ReportPage:
        """Return another text of the same page, such as one that was made again.

        Parameters
        ----------
        text : str
            The other page.
        """
        return replace(self, text=text, passages=tuple(_read(text).passages), pictures=tuple(_PICTURE.findall(text)))


def read_report_page(path: Path) -> ReportPage:
    """Return what a page of `feelcheck report` or of the demo holds.

    Parameters
    ----------
    path : Path
        The page.

    Raises
    ------
    FormatError
        If it is no such page, carries no data, or does not tell what it was made from.
    """
    if not path.exists():
        raise FormatError("There is no such file or folder.", {"path": path}, "Check the path.")
    data = file_bytes(path, most=MOST_BYTES)
    if form_made(path) != REPORT_PAGE.name:
        raise _refused("Only a page that feelcheck report or feelcheck demo wrote can be verified.", path)
    try:
        text = data.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as problem:
        raise _refused("The page is no text in UTF-8 any more.", path, byte=problem.start) from None
    reader = _read(text)
    if len(reader.data) != 1:
        raise _refused("A page carries its numbers in one block of data.", path, got=f"{len(reader.data)} blocks")
    document = json_document(reader.data[0].encode("utf-8", "replace"), path)
    if not isinstance(document, dict) or "made" not in document:
        raise _refused("The page does not tell what it was made from.", path)
    told = shaped(document["made"], _Made, path, "A page tells what it was made from in one form.")
    return ReportPage.of(text, told.making(), document, reader)


def _refused(sentence: str, path: Path, **facts: object) -> FormatError:
    return FormatError(sentence, {"file": path, **facts}, _AGAIN)


class _Reader(HTMLParser):
    """Collects the passages of text, the blocks of data and the voucher."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.passages: list[str] = []
        self.data: list[str] = []
        self.voucher = ""
        self._silent = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        if tag in ("script", "style"):
            self._silent = tag
        if tag == "script" and known.get("id") == DATA_ID:
            self.data.append("")
            self._silent = DATA_ID
        if tag == "meta" and known.get("name") == "tables":
            self.voucher = known.get("content") or ""

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style"):
            self._silent = ""

    def handle_data(self, data: str) -> None:
        if self._silent == DATA_ID:
            self.data[-1] += data
        elif not self._silent and (words := " ".join(data.split())):
            self.passages.append(words)


def _read(text: str) -> _Reader:
    reader = _Reader()
    reader.feed(_PICTURE.sub("", text))
    reader.close()
    return reader


Positive = Annotated[float, Meta(ge=0, le=1e6)]


class _Play(Struct):
    turn_rate_deg_s: Positive = 200.0
    field_of_view_deg: Annotated[float, Meta(ge=1, le=170)] = 90.0
    screen_deg: Annotated[float, Meta(ge=1, le=170)] = 35.0
    flick_s: Annotated[float, Meta(ge=1e-3, le=100)] = 0.1
    held_s: Annotated[float, Meta(ge=0, le=100)] = 0.2
    dead_zone_fraction: Annotated[float, Meta(ge=0, lt=1)] = 0.0
    curve_exponent: Annotated[float, Meta(ge=0.01, le=100)] = 1.0
    rest_band_fraction: Annotated[float, Meta(gt=0, lt=1)] = 0.02


class _File(Struct):
    kind: Literal["reference", "capture", "recording"]
    reference: Annotated[int, Meta(ge=0)]
    specimen: str
    state: str
    path: Annotated[str, Meta(min_length=1, max_length=4096, pattern="^[^\0]*$")]
    sha256: dict[str, Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]]


class _Made(Struct):
    references: Annotated[list[str], Meta(min_length=1, max_length=1000)]
    margin_ms: Positive
    play: _Play
    files: Annotated[list[_File], Meta(max_length=10_000)] = field(default_factory=list)

    def making(self) -> Making:
        n = len(self.references)
        if any(file.reference >= n for file in self.files) or self._named() != list(range(n)):
            facts = {"references": n, "files named": len(self._named())}
            raise FormatError("A page tells one file or folder for each reference.", facts, _AGAIN)
        files = tuple(Evidence(**structs.asdict(file)) for file in self.files)
        play = Play(**structs.asdict(self.play))
        return Making(references=tuple(self.references), margin_ms=self.margin_ms, play=play, files=files)

    def _named(self) -> list[int]:
        return [file.reference for file in self.files if file.kind == "reference"]
