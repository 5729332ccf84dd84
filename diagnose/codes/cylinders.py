"""The cylinder that a fault code names by its number: SPN 654 is the injector of cylinder 4, P0304 its misfire.

Sources: SAE J1939-71 (SPN 651 to 670 and 1323 to 1342, one each for cylinder 1 to 20), SAE J2012 (P0201 to P0212,
P0301 to P0312 and P0671 to P0682, one each; P0261 to P0296, three each); the ranges from memory, what the tables
beside this module list of them is checked against these.
"""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.codes.typed import Code

_SPNS = ((651, 670, 1), (1323, 1342, 1))  # injectors, misfires (SAE J1939-71)
_TROUBLES = ((201, 212, 1), (301, 312, 1), (671, 682, 1), (261, 296, 3))
"""First and last number (of a trouble code its digits), and how many follow each other for one cylinder."""


def cylinder_of(code: Code) -> str:
    """The place that the code names (`cylinder 4`); none: empty."""
    if code.trouble:
        digits = code.trouble[1:]
        known = code.trouble.startswith("P") and digits.isdecimal()
        return _within(int(digits), _TROUBLES) if known else ""
    return _within(code.spn or 0, _SPNS)


def _within(number: int, ranges: Sequence[tuple[int, int, int]]) -> str:
    for first, last, each in ranges:
        if first <= number <= last:
            return f"cylinder {(number - first) // each + 1}"
    return ""
