"""Before and after on one specimen, and what taking apart and putting together alone does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from feelcheck.comparison.decisions import Plan
from feelcheck.comparison.verdicts import compare_sides
from feelcheck.model import Caveat, HandRecord, MetricComparison

__all__ = ["BeforeAfter", "compare_before_after", "is_sham"]

NO_SHAM = Caveat(
    code="reassembly_confounded",
    text="What the change did cannot be told from what taking apart and putting together did: no sham was recorded.",
    advice="Take the stick apart and together with nothing changed; record that as a state named sham.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeAfter:
    """The change as seen, reassembly alone, and the change against the reassembled state."""

    change: tuple[MetricComparison, ...]
    reassembly: tuple[MetricComparison, ...]
    change_beyond_reassembly: tuple[MetricComparison, ...]
    caveats: tuple[Caveat, ...]


def is_sham(state: str) -> bool:
    """Whether a state's name says that the stick was only taken apart and put together.

    Parameters
    ----------
    state : str
        Name of a state of a specimen.
    """
    return state.lower().startswith("sham")


def compare_before_after(
    records: Sequence[HandRecord], *, before: str, after: str, specimen: str, plan: Plan | None = None
) -> BeforeAfter:
    """Compare two states of one specimen.

    The sessions of both states are independent recordings, not pairs; with a sham state the change is also held
    against the reassembled, unchanged stick, which has the same history of being taken apart.

    Parameters
    ----------
    records : sequence of HandRecord
        Sessions of the specimen, of any state.
    before : str
        State compared against.
    after : str
        State compared.
    specimen : str
        Its name, for messages.
    plan : Plan or None, optional
        Margins and number of looks; the usual ones if None.
    """
    sides = {state: [record for record in records if record.state == state] for state in (before, after)}
    shams = [record for record in records if is_sham(record.state)]
    change = compare_sides(sides[before], sides[after], candidate_name=specimen, state=after, plan=plan)
    if not shams:
        return BeforeAfter(change=change, reassembly=(), change_beyond_reassembly=(), caveats=(NO_SHAM,))
    sham_state = shams[0].state
    return BeforeAfter(
        change=change,
        reassembly=compare_sides(sides[before], shams, candidate_name=specimen, state=sham_state, plan=plan),
        change_beyond_reassembly=compare_sides(shams, sides[after], candidate_name=specimen, state=after, plan=plan),
        caveats=(),
    )
