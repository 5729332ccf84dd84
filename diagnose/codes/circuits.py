"""Which stored codes speak of a circuit (voltage or current), not of what is measured."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.codes.typed import explain, parse_code
from diagnose.errors import CallError

CIRCUIT_FMIS = (3, 4, 5, 6)
"""Voltage above and below normal, current below and above normal: SAE J1939-73, cited by title."""


def circuits(codes: Iterable[str]) -> int:
    """How many parts have a circuit code among these."""
    return len({part for code in codes if (part := _circuit(code))})


def _circuit(text: str) -> str:
    """The part whose circuit a code names; empty where it names none, or is no code."""
    try:
        code = parse_code(text)
    except CallError:
        return ""
    if code.trouble:
        return code.trouble if "circuit" in explain(code) else ""
    return str(code.spn) if code.fmi in CIRCUIT_FMIS else ""
