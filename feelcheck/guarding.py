"""Other packages at arm's length: what fails is named and left out, what hangs is told, and nothing else changes."""

from __future__ import annotations

import signal
from collections.abc import Callable
from functools import cache
from typing import Any, TypeVar

from feelcheck.errors import FeelcheckError, Interrupted, PluginError
from feelcheck.foreign import off_the_output, told_while_running
from feelcheck.model import Caveat, Estimate, Finding, HandView, Metric, MetricOutput, Trace
from feelcheck.plugins import Plugin

__all__ = ["GuardedMetric", "NonsenseError", "attempted", "called", "failed", "left_out", "required"]

T = TypeVar("T")


class NonsenseError(ValueError):
    """What a plugin returned is not what its family promises."""


def called(
    plugin: Plugin,
    call: Callable[[], T],
    check: Callable[[T], None],
    *,
    tell: Callable[[str], None] | None = None,
    on_stop: str = "leaves it out",
) -> T:
    """Return what a plugin's own code gives, held against what its family promises.

    Parameters
    ----------
    plugin : Plugin
        Whose code it is; the tool's own is called as it is.
    call : callable
        Runs it.
    check : callable
        Raises NonsenseError for what is no answer.
    tell : callable, optional
        Takes one line while it is waited for; stderr if not given.
    on_stop : str
        What Ctrl-C does meanwhile, in words.

    Raises
    ------
    NonsenseError
        If it prints, or returns what it must not.
    """
    if plugin.is_own:
        return call()
    with told_while_running(f"waiting for {plugin.whose}; Ctrl-C {on_stop}", tell):
        with off_the_output() as printed:
            value = _kept_running(call)
        check(value)
    if printed.getvalue():
        raise NonsenseError(f"it prints, which belongs to the result: {printed.getvalue()[:40]!r}")
    return value


def _kept_running(call: Callable[[], T]) -> T:
    """Return what a call gives; one that would end the whole program has failed."""
    try:
        return call()
    except SystemExit as left:
        raise NonsenseError(f"it ends the program: exit code {left.code}") from None


def required(plugin: Plugin, call: Callable[[], T], check: Callable[[T], None]) -> T:
    """Return what a plugin gives that a person asked for by name.

    Parameters
    ----------
    plugin : Plugin
        Whose call it is.
    call : callable
        The call.
    check : callable
        Refuses what the family does not give.

    Raises
    ------
    PluginError
        If it fails, prints or returns nonsense; an error that the tool's own rules word passes as it is.
    """
    try:
        return called(plugin, call, check, on_stop="ends the command")
    except FeelcheckError:
        raise
    except Exception as problem:
        raise failed(plugin, _words(problem)) from None


def failed(plugin: Plugin, why: str) -> PluginError:
    """Return the error that names a plugin and why it is of no use.

    Parameters
    ----------
    plugin : Plugin
        Whose failure it is.
    why : str
        What it raised, printed or returned, in words.
    """
    facts = {"plugin": plugin.whose, "problem": why}
    return PluginError("The plugin failed.", facts, "Tell whoever wrote it, or do without it.")


def left_out(plugin: Plugin, why: str) -> str:
    """Return the remark on a plugin that is done without, but for its article.

    Parameters
    ----------
    plugin : Plugin
        Whose failure it is.
    why : str
        As `attempted` gives it.
    """
    return f"{plugin.whose} was left out: {why}"


def attempted(
    plugin: Plugin, call: Callable[[], T], check: Callable[[T], None], *, tell: Callable[[str], None] | None = None
) -> tuple[T | None, str]:
    """Return what a plugin gives, or None and why it is left out.

    Never raises for another package but on a request to end; what the tool's own code raises passes as it is.

    Parameters
    ----------
    plugin : Plugin
        Whose call it is.
    call : callable
        The call.
    check : callable
        Refuses what the family does not give.
    tell : callable or None, optional
        Is told of what takes long.
    """
    try:
        return called(plugin, call, check, tell=tell), ""
    except KeyboardInterrupt as stop:
        if plugin.is_own or (isinstance(stop, Interrupted) and stop.number != signal.SIGINT):
            raise
        return None, "Ctrl-C"
    except Exception as problem:
        if plugin.is_own:
            raise
        return None, _words(problem)


def _words(problem: Exception) -> str:
    return f"{type(problem).__name__}: {' '.join(str(problem).split())[:200]}"


class GuardedMetric:
    """A metric of another package that cannot spoil an analysis.

    Parameters
    ----------
    plugin : Plugin
        Where it comes from.
    metric : Metric
        What it is.
    tell : callable
        Takes one line while it is waited for.

    Notes
    -----
    Only its findings, traces and caveats are taken: flicks, models, poles and polarity belong to the built-in metrics.
    """

    def __init__(self, plugin: Plugin, metric: Metric, *, tell: Callable[[str], None] | None = None) -> None:
        self.name = plugin.name
        self.findings: tuple[Finding, ...] = ()
        self.package = plugin.distribution
        self._metric = metric
        self._plugin = plugin
        self._tell = tell

    def measure(self, view: HandView) -> MetricOutput:
        """Return what the metric finds, or one caveat that says why it was left out; never raises but on a signal."""
        output, why = attempted(
            self._plugin, lambda: self._metric.measure(view), lambda found: _check(found, view), tell=self._tell
        )
        if output is None:
            return self._left_out(why)
        self.findings = output.findings
        return MetricOutput(findings=output.findings, traces=output.traces, caveats=output.caveats)

    def _left_out(self, why: str) -> MetricOutput:
        text = f"The {left_out(self._plugin, why)}."
        return MetricOutput(caveats=(Caveat(code=f"left_out_{self.name}", text=text, advice="Tell whoever wrote it."),))


def _check(output: Any, view: HandView) -> None:
    """Refuse what is no output, and findings on axes that the recording does not have."""
    if not isinstance(output, MetricOutput):
        raise NonsenseError(f"it returned {type(output).__name__}, not MetricOutput")
    axes = {"", *(stream.name for stream in view.recording.streams)}
    for finding in output.findings:
        if not (isinstance(finding, Finding) and isinstance(finding.estimate, Estimate)):
            raise NonsenseError(f"a finding of it is {type(finding).__name__}")
        if finding.estimate.quantity in _built_in():
            raise NonsenseError(f"its finding {finding.estimate.quantity!r} has the name of a built-in quantity")
        if finding.axis not in axes or not finding.estimate.quantity.isidentifier():
            raise NonsenseError(f"its finding {finding.estimate.quantity!r} belongs to no axis: {finding.axis!r}")
    wrong = [part for part in (*output.traces, *output.caveats) if not isinstance(part, Trace | Caveat)]
    if wrong:
        raise NonsenseError(f"it returned {type(wrong[0]).__name__} among traces and caveats")


@cache
def _built_in() -> frozenset[str]:
    """Quantities of the tool's own; the hand is imported here alone, since a capture's reader is guarded without it."""
    from feelcheck.hand.view import AXIS_UNITS, RESPONSE_UNITS

    return frozenset((*AXIS_UNITS, *RESPONSE_UNITS, "report_interval", "host_jitter", "lost_report_fraction"))
