"""Numbers and roles in the words of the screen; never more certain than they are."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.knowledge.records import Finding
from diagnose.plain import percent as percent

CAUTION = "Follow the engine maker's service information, local codes and licensed practice."
BAR_CELLS = 10  # one a tenth
_STRENGTHS = ((3.0, "slightly"), (10.0, "clearly"))  # decibans: up to a factor 2, up to 10, above (judgement)


def bar(p: float) -> str:
    """A probability as ten marks, in plain letters that every terminal has."""
    full = round(BAR_CELLS * p)
    return "|" * full + "." * (BAR_CELLS - full)


def minutes(value: float) -> str:
    """`25 min`, `1 h 20 min`, `2 h`; at least one minute where it takes any time at all."""
    whole = max(1, round(value)) if value > 0 else 0
    hours, rest = divmod(whole, 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{rest} min") if part and part != "0 min"
    ) or ("0 min")


def chance(p: float) -> str:
    """A probability as a whole per cent, in words at the far ends, where figures promise too much."""
    if p < 0.005:
        return "hardly likely"
    return "as good as sure" if p >= 0.995 else percent(p)


def strength(decibans: float) -> str:
    """How strongly a weight of evidence speaks, for or against: `slightly`, `clearly`, `strongly`."""
    return next((word for limit, word in _STRENGTHS if abs(decibans) <= limit), "strongly")


def weight(decibans: float, figures: bool = True) -> str:
    """Weight of evidence in words and decibans: `strongly for (+12 dB)`; without `figures` in words alone."""
    side = "for" if decibans > 0 else "against"
    if not figures:
        return f"{strength(decibans)} {side}"
    if abs(decibans) < 0.5:
        return "says nothing more (0 dB)"
    return f"{strength(decibans)} {side} ({decibans:+.0f} dB)"


def in_decibans(value: float) -> str:
    """`+12 dB`, `-3 dB`, `0 dB`."""
    return f"{value:+.0f} dB" if abs(value) >= 0.5 else "0 dB"


def listed(words: Iterable[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    *most, final = list(words) or [""]
    return f"{', '.join(most)} {last} {final}" if most else final


def count(number: int, one: str, many: str = "") -> str:
    """`1 finding`, `3 findings`, `no findings`."""
    return f"{number or 'no'} {one if number == 1 else many or one + 's'}"


def between(interval: tuple[float, float]) -> str:
    """A range of probabilities: `20 to 48 %`."""
    low, high = map(percent, interval)
    return low if low == high else f"{low.removesuffix(' %')} to {high}"


def times(factor: float) -> str:
    """A factor with two figures: `1.4 times`, `230 times`, `> 1000 times`."""
    if factor >= 1000:
        return "> 1000 times"
    return f"{factor:.2g} times" if factor < 99.5 else f"{round(factor, -1):.0f} times"


def odds(decibans: float, one: str, other: str) -> str:
    """Odds between two as `12 to 1 for NAME`, from decibans for the first."""
    ratio = 10 ** (abs(decibans) / 10)
    if ratio < 1.05:
        return "even odds"
    size = f"{ratio:.2g}" if ratio < 99.5 else f"{round(ratio, -1):.0f}" if ratio < 1000 else "> 1000"
    return f"{size} to 1 for {one if decibans > 0 else other}"


def yes_or_no(finding: Finding, state: str) -> str:
    """A state as the answer to whether the finding is there; the state itself where there are several."""
    return {"absent": "no", "present": "yes"}.get(state, state) if len(finding.states) == 2 else state
