"""The list of quantities: name, words, unit and where each stands; text, tables, page and `why` take rows from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["DELAY", "DIRECTIONS", "QUANTITIES", "Direction", "Quantity", "listed", "words_of"]

Direction = Literal["rising", "falling"]
DIRECTIONS: tuple[Direction, ...] = ("rising", "falling")
"""The electrical directions, in the order in which they are told everywhere."""
DELAY = "smoothing_delay"
"""What adds up along the chain, so that parts, bench and hand are compared by it."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of a result.

    Parameters
    ----------
    name : str
        The field of the result and the key in JSON.
    words : str
        What tables and sentences call it.
    unit : str
        As inside: seconds, not ms; empty where the file decides.
    where : str
        Part of a result that holds it, e.g. ``"bench direction"``.
    short : str
        What a narrow table calls it; empty for `words`.
    """

    name: str
    words: str
    unit: str
    where: str
    short: str = ""

    @property
    def brief(self) -> str:
        """The shorter of its words."""
        return self.short or self.words


def _all(where: str, *rows: tuple[str, ...]) -> tuple[Quantity, ...]:
    return tuple(Quantity(name, words, unit, where, *short) for name, words, unit, *short in rows)


# fmt: off
_FEEL = _all(
    "feel",
    (
        "trailing_rising",
        "trails the thumb by, in a flick, code rising (of full throw)",
        "fraction",
        "trails the thumb, code rising",
    ),
    (
        "trailing_falling",
        "trails the thumb by, in a flick, code falling (of full throw)",
        "fraction",
        "trails the thumb, code falling",
    ),
    ("carry_on_after_release", "view turns on after letting go, code falling", "deg", "turns on, code falling"),
    ("carry_on_opposite", "view turns on after letting go, code rising", "deg", "turns on, code rising"),
    (
        "net_angle_per_flick",
        "one out-and-back flick pushes the view by, either way alike",
        "deg",
        "pushed by one flick",
    ),
    (
        "drift_per_pair",
        "a right flick and a left one together leave it turned by",
        "deg",
        "left by a pair of flicks",
    ),
    ("settle_after_release", "electronics are inside the rest band after", "s", "electronics at rest after"),
    (
        "settling_in_hand",
        "at rest after letting go, spring and electronics as recorded",
        "s",
        "stick at rest after",
    ),
    (
        "carry_on_of_picture",
        "turning on, as a share of the picture's width",
        "fraction",
        "turns on, of the picture",
    ),
    (
        "drift_of_picture",
        "drift of a pair, as a share of the picture's width",
        "fraction",
        "left by a pair, of the picture",
    ),
    ("tremor_band_gain", "keeps of the hand's 8 to 12 Hz motion", "fraction", "keeps of 8 to 12 Hz motion"),
    ("ring_kept", "keeps of the spring's ringing", "fraction"),
    ("sensor_noise_kept", "keeps of noise that is new in every report", "fraction", "keeps of each report's noise"),
    ("rest_noise", "noise at rest", "counts"),
    (
        "steady_speed_step_below",
        "one step changes the speed by over 7 % below a deflection of",
        "fraction",
        "a step is over 7 % below",
    ),
    (
        "speed_ripple_below",
        "one step changes the speed by over 30 % below a deflection of",
        "fraction",
        "a step is over 30 % below",
    ),
)
# fmt: on

QUANTITIES: tuple[Quantity, ...] = (
    *_all(
        "hand direction",
        ("smoothing_delay", "smoothing delay", "s"),
        ("time_constant", "time constant", "s"),
        ("transition_10_90", "10 to 90 %", "s"),
        ("mean_delay", "mean delay", "s"),
    ),
    *_all(
        "hand axis",
        ("quantization_step", "step", "counts"),
        ("resolution", "resolution", "bits"),
        ("rest_noise", "rest noise", "counts"),
        ("return_error", "return error", "fraction"),
        ("dead_zone", "dead zone", "fraction"),
        ("update_interval", "held for", "s"),
        ("asymmetry", "falling / rising", "ratio"),
    ),
    *_all(
        "hand cross axis",
        ("rim_skew", "shows of the other axis, round the rim", "fraction"),
        ("rim_direction_error", "direction off by at most, round the rim", "deg"),
        ("cross_axis", "shows of the other axis, straight flicks", "fraction"),
        ("direction_error", "direction off by, straight flicks", "deg"),
    ),
    *_all(
        "hand timing",
        ("report_interval", "report interval", "s"),
        ("host_jitter", "host jitter, 95 % of reports within", "s"),
        ("lost_report_fraction", "lost while moving", "fraction"),
    ),
    *_all(
        "hand release",
        ("ring_frequency", "ring frequency", "Hz"),
        ("natural_frequency", "natural frequency", "Hz"),
        ("damping_ratio", "damping ratio", "ratio"),
        ("overshoot", "overshoot", "fraction"),
        ("settling_time", "settling time", "s"),
        ("ring_attenuation", "ring attenuation", "ratio"),
        ("coulomb_friction", "coulomb friction", "fraction"),
    ),
    *_all("hand lag marker", ("delay", "all delay", "s"), ("onset_delay", "of it before anything shows", "s")),
    *_all(
        "hand lag coupled",
        ("delay", "delay", "s"),
        ("rising", "delay, code rising", "s"),
        ("falling", "delay, code falling", "s"),
        ("smoothing", "longer pole by", "s"),
        ("gain", "gain", "ratio"),
        ("play", "play of the linkage", "fraction"),
    ),
    *_all(
        "bench direction",
        ("time_constant", "time constant", "s"),
        ("transition_10_90", "10 to 90 % as read", "s", "10 to 90 %"),
        ("step_transition_10_90", "10 to 90 % of a step", "s"),
        ("dead_time", "dead time", "s"),
        ("smoothing_delay", "smoothing delay", "s"),
        ("mean_delay", "mean delay in all", "s", "mean delay"),
        ("settled_fraction", "settled", "fraction"),
    ),
    *_all("bench drive", ("transition_10_90", "10 to 90 %", "s"), ("swing", "swing", "")),
    *_all(
        "bench",
        ("asymmetry", "falling / rising", "ratio"),
        ("update_interval", "held between internal samples for", "s"),
        ("noise", "noise, rms", ""),
        ("swing", "swing", ""),
    ),
    *_all("compare", ("transition_10_90", "10 to 90 % as read", "s"), ("update_interval", "held for (refresh)", "s")),
    *_all(
        "parts direction",
        ("time_constant", "time constant", "s"),
        ("transition_10_90", "10 to 90 %", "s"),
        ("mean_delay", "mean delay (area)", "s"),
    ),
    *_all("parts", ("corner_frequency", "corner frequency", "Hz")),
    *_FEEL,
    *_all(
        "rehearsal",
        ("proportion_correct", "share of correct answers", "fraction"),
        ("sensitivity", "sensitivity d'", "ratio"),
        ("threshold", "added delay named correctly in three of four trials", "s"),
        ("throughput", "throughput", "bit/s"),
        ("effective_width", "effective width, of the ring's diameter", "ratio"),
        ("effective_index", "effective index of difficulty", "bit"),
        ("mean_time", "time a movement", "s"),
        ("error_rate", "selections beside the target", "fraction"),
        ("throughput_difference", "difference of throughput, B less A", "bit/s"),
    ),
)
"""In the order in which tables show them."""


def listed(where: str) -> tuple[Quantity, ...]:
    """Return the quantities of one part of a result, in the order in which tables show them.

    Parameters
    ----------
    where : str
        The part.

    Raises
    ------
    KeyError
        If no part is called so.

    Examples
    --------
    >>> [quantity.words for quantity in listed("parts direction")]
    ['time constant', '10 to 90 %', 'mean delay (area)']
    """
    found = tuple(quantity for quantity in QUANTITIES if quantity.where == where)
    if not found:
        raise KeyError(where)
    return found


def words_of(name: str, *where: str) -> str:
    """Return a quantity in words: as in the first of these parts that holds it, else its name with spaces.

    Parameters
    ----------
    name : str
        The quantity.
    *where : str
        Parts of a result.

    Examples
    --------
    >>> words_of("noise", "compare", "bench"), words_of("rest_drift", "hand axis")
    ('noise, rms', 'rest drift')
    """
    for part in where:
        for quantity in QUANTITIES:
            if quantity.where == part and quantity.name == name:
                return quantity.words
    return name.replace("_", " ")
