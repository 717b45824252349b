"""What every page is made with: escaping, the one script that it allows, and sections of pictures and tables."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from feelcheck.plain_text import harmless
from feelcheck.renderers._panels import Picture
from feelcheck.renderers._saving import svg_element
from feelcheck.renderers.report.tables import Table

__all__ = ["page_environment", "page_items"]


def page_environment() -> Environment:
    """Return the environment of the pages' templates.

    Notes
    -----
    Names from files are escaped, and characters that turn a line round show as their code. Templates know ``script``
    and ``script_hash``, the source by which the page's security policy allows it.

    References
    ----------
    W3C Content Security Policy Level 3, section 2.3.1: hash sources.
    """
    environment = Environment(
        loader=PackageLoader("feelcheck.renderers.report"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, finalize=_shown,
    )  # fmt: skip
    script = (resources.files("feelcheck.renderers.report") / "templates" / "page.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    environment.globals.update(script=Markup(script), script_hash=Markup(f"sha256-{digest}"))
    return environment


def page_items(name: str, items: Sequence[Picture | Table]) -> list[dict[str, Any]]:
    """Return a section's pictures and tables in order as the templates take them, empty tables left out.

    Parameters
    ----------
    name : str
        The section's; ids of its pictures begin with it.
    items : sequence of Picture or Table
        What the section shows.
    """
    shown: list[dict[str, Any]] = []
    for k, item in enumerate(items):
        if isinstance(item, Picture):
            svg = Markup(svg_element(item.sheet, f"{name}-{k}", item.title, item.description))
            shown.append({"table": None, "svg": svg, "title": item.title})
        elif item.rows:
            shown.append({"table": item})
    return shown


def _shown(value: Any) -> Any:
    return harmless(value) if isinstance(value, str) and not isinstance(value, Markup) else value
