"""What was made of one asked action, in words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["ADVICE", "Reason", "Verdict", "direction_words"]

_WORDS = ("right", "up and right", "up", "up and left", "left", "down and left", "down", "down and right")


class Reason(StrEnum):
    """Why an action was accepted or not, in the words that stand in the session's notes."""

    DONE = "done"
    CLIPPED_ALWAYS = "done, code at full scale as always there"
    SHORT = "short of the rim"
    SLOW = "too slow"
    FAST = "too quick"
    CLIPPED = "code at full scale"
    DIRECTION = "wrong direction"
    STICK = "wrong stick"
    TWO = "two sticks at once"
    BRIEF = "held too briefly"
    NOT_MOVED = "not moved"
    LEFT_RIM = "left the rim"
    NOT_STILL = "not still"
    NOT_LET_GO = "not let go"
    NOT_PRESSED = "no button pressed"

    @property
    def good(self) -> bool:
        """Whether the action counts."""
        return self in (Reason.DONE, Reason.CLIPPED_ALWAYS)


ADVICE = {
    Reason.DONE: "",
    Reason.CLIPPED_ALWAYS: "This pad's reading always ends before the rim there; that is fine.",
    Reason.SHORT: "Push on until the stick meets the rim.",
    Reason.SLOW: "One quick, easy push; no force is needed.",
    Reason.FAST: "Take your time: about as long as a slow breath.",
    Reason.CLIPPED: "Aim closer to the diagonal: there the scale has room.",
    Reason.DIRECTION: "Follow the direction that is asked.",
    Reason.STICK: "Use the stick that is named.",
    Reason.TWO: "Leave the other stick alone meanwhile.",
    Reason.BRIEF: "Keep the stick at the rim until you read 'Let go'.",
    Reason.NOT_MOVED: "Take the stick when you are ready. If you did move it, plug the pad in again.",
    Reason.LEFT_RIM: "Keep the stick against the rim all the way round.",
    Reason.NOT_STILL: "Thumbs off, and the pad on the table or on your knees.",
    Reason.NOT_LET_GO: "Take the thumb off, so that the stick springs back by itself.",
    Reason.NOT_PRESSED: "Press the button when you are ready.",
}
"""What to do better next time."""

_SENTENCES = {
    Reason.DONE: "Good.",
    Reason.CLIPPED_ALWAYS: "Good.",
    Reason.SHORT: "It stopped short of the rim{detail}.",
    Reason.SLOW: "It was too slow{detail}.",
    Reason.FAST: "It was too quick{detail}.",
    Reason.CLIPPED: "The reading ran into the end of its scale.",
    Reason.DIRECTION: "It went another way{detail}.",
    Reason.STICK: "That was the other stick.",
    Reason.TWO: "Both sticks moved.",
    Reason.BRIEF: "It did not stay at the rim long enough{detail}.",
    Reason.NOT_MOVED: "Nothing moved.",
    Reason.LEFT_RIM: "The stick left the rim before it was round.",
    Reason.NOT_STILL: "The stick was not still.",
    Reason.NOT_LET_GO: "The stick did not come back to the centre.",
    Reason.NOT_PRESSED: "No button was pressed.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One judgement.

    Parameters
    ----------
    reason : Reason
        Why it counts or not.
    detail : str
        What was measured, as it goes into the sentence (``"at 80 % of the way"``).
    """

    reason: Reason
    detail: str = ""

    @property
    def good(self) -> bool:
        """Whether the action counts."""
        return self.reason.good

    @property
    def sentence(self) -> str:
        """What happened.

        Examples
        --------
        >>> Verdict(reason=Reason.SHORT, detail="at 80 % of the way").sentence
        'It stopped short of the rim, at 80 % of the way.'
        """
        return _SENTENCES[self.reason].format(detail=f", {self.detail}" if self.detail else "")

    @property
    def advice(self) -> str:
        """What to do better."""
        return ADVICE[self.reason]


def direction_words(direction_deg: float) -> str:
    """Return a direction in words.

    Parameters
    ----------
    direction_deg : float, deg
        Direction, counter-clockwise from right.

    Examples
    --------
    >>> direction_words(130.0)
    'up and left'
    """
    return _WORDS[round(direction_deg / 45.0) % 8]
