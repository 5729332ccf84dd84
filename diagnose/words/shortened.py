"""Words as they are shortened on job cards, spelt out: batts, fltr, w/pump. From memory of the trade."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from diagnose.words.stems import words


class Raw(NamedTuple):
    """One word (or mark) as written, in lower case and without apostrophes."""

    text: str
    start: int
    end: int


_SHORT = """
abt about|approx approximately|b4 before|thru through|tho though|cuz because|coz because|w/ with|w/o without
chg change|chgd changed|repl replaced|rplcd replaced|repld replaced|instd installed|adjd adjusted
wk week|wks weeks|mth month|mths months|yr year|yrs years|nite night|lite light|lites lights|msg message
smk smoke|smkg smoking|wht white|blk black|blu blue|vib vibration|vibs vibrations|intermit intermittent
intmt intermittent|o/p output|i/p input|pwr power|tq torque|accel acceleration|decel deceleration|ign ignition
throt throttle|ped pedal|consump consumption|contam contaminated|eff efficiency|lvl level|spd speed|prob probably
probs problems|ext external|frt front|rtn return|fltr filter|fltrs filters|filt filter|vlv valve|vlvs valves
hsg housing|brkt bracket|mtg mounting|mtr motor|sw switch|sens sensor|snsr sensor|sensr sensor|sndr sender
ckt circuit|circ circuit|gskt gasket|mfld manifold|mani manifold|mnfld manifold|refract refractometer
elec electric|mech mechanical|hydr hydraulic|xfer transfer|bal balance|dev deviation|injr injector|clnt coolant
strtr starter|crnk crank|crnkg cranking|strt start|o/heat overheat|o/heats overheats|o/heating overheating
o/heated overheated|w/pump water pump|t/stat thermostat|f/filter fuel filter|f/pump fuel pump|d/stick dipstick
c/case crankcase|c/shaft crankshaft|h/gasket head gasket|t/c turbo|i/c intercooler|g/box gearbox
s/motor starter motor|a/cleaner air cleaner|l/pump lift pump|v/drop voltage drop|dunno do not know|visco viscous
"""
SHORT = {
    key: spelt
    for line in _SHORT.strip().splitlines()
    for key, *spelt in (words(one) for one in line.split("|"))
}
"""As written -> the words that it stands for. One with a slash is written without blanks."""
LONGEST = 3  # words and marks of one: w, /, pump


def spelt_out(raws: Sequence[Raw]) -> list[Raw]:
    """The words of a text, each that is shortened as what it stands for, in its place."""
    return list(_spelt_out(raws))


def _spelt_out(raws: Sequence[Raw]) -> Iterator[Raw]:
    i = 0
    while i < len(raws):
        longest = min(LONGEST, len(raws) - i)
        take = next((n for n in range(longest, 0, -1) if _together(raws[i : i + n]) in SHORT), 0)
        if take:
            start, end = raws[i].start, raws[i + take - 1].end
            yield from (Raw(one, start, end) for one in SHORT[_together(raws[i : i + take])])
        else:
            yield raws[i]
        i += take or 1


def _together(raws: Sequence[Raw]) -> str:
    """Words and marks as one, where nothing stands between them."""
    close = all(one.end == other.start for one, other in pairwise(raws))
    return "".join(raw.text for raw in raws) if close else ""
