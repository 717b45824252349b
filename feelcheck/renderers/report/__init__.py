"""One self-contained page for a person to show."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from feelcheck.model import Report

__all__ = ["report_html", "report_tables"]


def report_html(
    report: Report, *, mark: str = "", voucher: str = "", say: Callable[[str], None] = lambda _: None
) -> str:
    """Return the page; see `feelcheck.renderers.report.page.report_html`.

    Parameters
    ----------
    report : Report
        What the page shows.
    mark : str, optional
        Line that tells the tool's own pages.
    voucher : str, optional
        What `feelcheck verify` goes by.
    say : callable, optional
        Is told what is drawn now.
    """
    from feelcheck.renderers.report.page import report_html as render

    return render(report, mark=mark, voucher=voucher, say=say)


def report_tables(report: Report) -> dict[str, str]:
    """Return the page's main tables as delimited text; see `feelcheck.renderers.report.page.report_tables`.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    from feelcheck.renderers.report.page import report_tables as render

    return render(report)
