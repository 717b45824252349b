"""`feelcheck report`: the whole chain on one page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from feelcheck.cli._documents import As, check_document, show_document
from feelcheck.cli._options import FieldOfViewDeg, MarginMs, TurnRateDegS
from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.outputs import REPORT_PAGE

__all__ = ["report"]


@reports_errors
def report(
    profiles: Annotated[list[str], typer.Argument(help="Record, record@state, capture or session; first: baseline.")],
    out: Annotated[Path, Writes(REPORT_PAGE), typer.Option(help="The page to write (.html).")] = Path(
        "feelcheck_report.html"
    ),
    margin_ms: MarginMs = 1.0,
    turn_rate_deg_s: TurnRateDegS = 200.0,
    field_of_view_deg: FieldOfViewDeg = 90.0,
    jobs: Annotated[
        int | None, typer.Option(help="Processes where there are many files; all processors if not given.", min=1)
    ] = None,
    as_: As = None,
) -> None:
    """Put all that is known of specimens on one page.

    Parts, bench, hand, comparison and meaning in use, in one file that fetches nothing.

    Example: feelcheck report profiles/alder.toml profiles/birch.toml --out alder_birch.html

    Next: open the page in a browser; it prints to A4, and what spoils it is told by feelcheck guide hand.
    """
    from feelcheck import pipeline

    check_document(as_, "report")
    pipeline.check_references(profiles)
    from feelcheck.model import Play

    play = Play(turn_rate_deg_s=turn_rate_deg_s, field_of_view_deg=field_of_view_deg)
    asked: dict[str, Any] = {"margin_ms": margin_ms, "play": play, "jobs": jobs, "say": remark}
    if as_ is not None:
        show_document(as_, "report", pipeline.report_of(profiles, **asked))
        return
    written = pipeline.report(profiles, out, **asked)
    typer.echo(written.page)
    remark("Open it from disk: it asks nothing of any network.")
