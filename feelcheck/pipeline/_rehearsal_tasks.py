"""What a rehearsal is asked for, held against what it needs, and the block of trials or the aiming task it becomes."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

from feelcheck.errors import FormatError
from feelcheck.model import PlayedStage, RehearsalKind, Slowness
from feelcheck.psychometrics import placement_named
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.choices import QUESTIONS, ChoiceBlock
from feelcheck.rehearsal.controls import controls_from
from feelcheck.rehearsal.order import SealedOrder

__all__ = ["RehearsalAsked", "aiming_of", "block_of", "kind_of", "sealed_words", "seed_of"]

PLACEMENTS = ("adaptive", "two_down", "three_down")
USUAL_TRIALS = {"trials": 23, "staircase": 60}
"""23 is where 16 correct rule out guessing at 5 % and four of five true answers are found in nine of ten blocks."""
SEQUENCES_EACH = 4
MOST_TRIALS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalAsked:
    """What a rehearsal is asked to do.

    Parameters
    ----------
    task : str
        free, trials, staircase or aiming; empty: trials of two references and a staircase of one where an observer is
        simulated, else free.
    own : str
        Recording of the stick in hand, or ``"ideal"``: it is taken as adding nothing; empty: it is measured first.
    n_trials : int or None
        Trials that are to count.
    placement, slowness, question : str
        How a staircase is placed, which way is slowed, what is asked.
    observer_threshold_s : float or None, s
        Threshold of a simulated observer; None for a person.
    seed : int or None
        Seed of order and observer; drawn where it is not given.
    side : {"left", "right"}
        Which stick.
    n_targets : int
        Targets on the ring.
    headless : bool
        No window.
    source, device : str
        Which pad; ``"virtual"`` is a simulated one.
    hide_names : bool
        Whether a free feel only says A and B.
    interval_s : float, s
        How long each of the two responses of a trial is felt.
    controls : tuple of str
        Wishes for keys and buttons, see `controls_from`.
    theme, size : str
        Look of the window.
    linger_s : float, s
        How long its last page stands.
    out : str
        Folder for the session's folder.
    """

    task: str = ""
    own: str = ""
    n_trials: int | None = None
    placement: str = "adaptive"
    slowness: Slowness = "both"
    question: str = "stop"
    observer_threshold_s: float | None = None
    seed: int | None = None
    side: str = "left"
    n_targets: int = 9
    headless: bool = False
    source: str = "auto"
    device: str = ""
    hide_names: bool = False
    interval_s: float = 3.5
    controls: tuple[str, ...] = ()
    theme: str = "light"
    size: str = "normal"
    linger_s: float = 60.0
    out: str = "sessions"


def kind_of(asked: RehearsalAsked, n_references: int) -> RehearsalKind:
    """Return what is done, held against what it needs.

    Raises
    ------
    FormatError
        On an unknown word, or a number that makes no sense.
    """
    words = ((asked.placement, PLACEMENTS), (asked.slowness, get_args(Slowness)), (asked.question, tuple(QUESTIONS)))
    controls_from(list(asked.controls))
    looks = ((asked.theme, ("light", "dark")), (asked.size, ("normal", "large")))
    for word, allowed in (
        *words,
        *looks,
        (asked.task or "free", get_args(RehearsalKind)),
        (asked.side, ("left", "right")),
    ):
        if word not in allowed:
            facts: dict[str, object] = {"got": word, "allowed": ", ".join(allowed)}
            raise FormatError("A rehearsal is asked for in known words.", facts, "Choose one of these words.")
    usual = "trials" if n_references > 1 else "staircase"
    kind = asked.task or (usual if asked.observer_threshold_s is not None else "free")
    needs = {"free": (0, 2), "trials": (2, 2), "staircase": (0, 1), "aiming": (0, 2)}[kind]
    if not needs[0] <= n_references <= needs[1]:
        facts = {"task": kind, "got": n_references, "needed": " to ".join(map(str, dict.fromkeys(needs)))}
        raise FormatError("A task plays a certain number of responses.", facts, "Name so many records or captures.")
    threshold_s, n = asked.observer_threshold_s, asked.n_trials
    if not 0.2 <= asked.interval_s <= 60:
        raise FormatError(
            "An interval of a trial lasts 0.2 to 60 s.", {"got": asked.interval_s}, "Give --interval-s 3.5."
        )
    if (threshold_s is not None and not 0 < threshold_s < 1) or (n is not None and not 1 <= n <= MOST_TRIALS):
        given = {"threshold": None if threshold_s is None else f"{1e3 * threshold_s:g} ms", "trials": n}
        facts = {name: value for name, value in given.items() if value is not None}
        facts["allowed"] = f"0 to 1000 ms, 1 to {MOST_TRIALS} trials"
        raise FormatError("Threshold and number of trials are in a range that makes sense.", facts, "Change it.")
    return kind  # type: ignore[return-value]


def seed_of(asked: RehearsalAsked) -> int:
    """Return the seed that was given, else one drawn now."""
    if asked.seed is not None and asked.seed < 0:
        raise FormatError("A seed is not negative.", {"got": asked.seed}, "Give --seed 0 or more.")
    return secrets.randbelow(2**31) if asked.seed is None else asked.seed


def block_of(kind: RehearsalKind, stages: Sequence[PlayedStage], asked: RehearsalAsked, seed: int) -> ChoiceBlock:
    """Return the block of trials: the slower of two is the one with more delay, rising and falling together."""
    n = asked.n_trials or USUAL_TRIALS[kind]
    order = SealedOrder.drawn(n, seed=seed)
    if kind == "staircase":
        return ChoiceBlock(
            quick=stages[0], slow=stages[0], n_planned=n, order=order, slowness=asked.slowness,
            placement=placement_named(asked.placement),
        )  # fmt: skip
    quick, slow = sorted(stages, key=lambda stage: _delay(stage, asked.slowness))
    return ChoiceBlock(quick=quick, slow=slow, n_planned=n, order=order, slowness=asked.slowness)


def _delay(stage: PlayedStage, ways: Slowness) -> float:
    sides = (stage.added_falling,) if ways == "falling" else (stage.added_rising, stage.added_falling)
    return sum(side.value or 0.0 for side in sides)


def aiming_of(stages: Sequence[PlayedStage], asked: RehearsalAsked, seed: int) -> AimingTask:
    """Return the aiming task.

    Raises
    ------
    FormatError
        If the number of targets is even or below five.
    """
    order = AimingTask.balanced_order(len(stages), SEQUENCES_EACH, seed=seed)
    try:
        return AimingTask(stages=tuple(stages), n_targets=asked.n_targets, order=order)
    except ValueError as error:
        raise FormatError(
            "Aiming needs an odd number of targets from five on, so that every movement is equally long.",
            {"got": asked.n_targets},
            "Give --targets 9.",
        ) from error


def sealed_words(block: ChoiceBlock) -> str:
    """Return the fingerprint of the order in words, as told before the first trial."""
    plan = block.plan()
    shows = ""
    if "least_correct" in plan:
        shows = (
            f" {plan['least_correct']:g} of {plan['n']:g} correct rule out guessing (5 %); one who is right in four of "
            f"five trials reaches that in {100 * plan['power_at_80']:.0f} of 100 blocks."
        )
    elif plan:
        shows = f" So few trials ({plan['n']:g}) cannot rule out guessing, whatever the answers."
    return f"Order sealed; SHA-256 {block.order.seal}.{shows}"
