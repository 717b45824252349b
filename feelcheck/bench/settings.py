"""Scope settings that change the answer: what is said where they are known, and asked for where they matter."""

from __future__ import annotations

import re

from feelcheck.bench.numbers import PROBE_MATTERS_S
from feelcheck.model import BenchDirection, BenchResult, Caveat

__all__ = ["setting_caveats"]


AC_COUPLED = Caveat(
    code="ac_coupled",
    text="The capture is AC coupled: plateaus droop, so slow parts of an edge and its settling are bent.",
    advice="Capture again with DC coupling.",
)


def setting_caveats(result: BenchResult) -> tuple[Caveat, ...]:
    """Return remarks on the scope settings of a result: known ones that bend it, and a request for missing ones.

    Averaging is asked for where noise is told, the probe point where a time constant is, the supply where the output
    saturates, probe and bandwidth limit where an edge is so fast that they could have made it.

    Parameters
    ----------
    result : BenchResult
        A result, with the settings that are known.
    """
    facts = result.capture.provenance.facts
    sides = [side for side in (result.rising, result.falling) if side is not None]
    found = []
    if re.search(r"\bAC\b", facts.get("coupling", "")):
        found.append(AC_COUPLED)
    n = re.search(r"\d+", facts.get("averaging", ""))
    if n and int(n[0]) > 1:
        text = f"The capture is an average of {n[0]}: noise is that of the average, and steps that do not follow the "
        found.append(Caveat(code="averaged", text=text + "trigger are smeared.", advice="Capture a single shot too."))
    wanted = {
        "averaging": result.noise.is_ok,
        "probe_point": any(side.time_constant.is_ok for side in sides),
        "supply": any(side.saturated for side in sides),
        "probe_attenuation": any(map(_is_fast, sides)),
        "bandwidth_limit": any(map(_is_fast, sides)),
    }
    missing = [name for name, matters in wanted.items() if matters and not facts.get(name)]
    if missing:
        words = ", ".join(name.replace("_", " ") for name in missing)
        text = f"The file does not tell these scope settings, which bear on the result: {words}."
        advice = f"Give them with --scope, such as --scope {missing[0]}={EXAMPLES[missing[0]]}."
        found.append(Caveat(code="scope_settings_unknown", text=text, advice=advice))
    return tuple(found)


EXAMPLES = {
    "averaging": "none",
    "probe_point": "sensor_pin",
    "supply": "1.8V",
    "probe_attenuation": "10x",
    "bandwidth_limit": "20MHz",
}


def _is_fast(side: BenchDirection) -> bool:
    read = side.transition_10_90
    level = read.value if read.value is not None else read.bound
    return level is not None and level < PROBE_MATTERS_S
