"""Readers of the values of JSON: each gives the value made plain, or says what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any


def text(value: object) -> str:
    """A text. Raises TypeError or ValueError."""
    if not isinstance(value, str):
        raise TypeError("not a text")
    return value


def flag(value: object) -> bool:
    """True or false. Raises TypeError or ValueError."""
    if not isinstance(value, bool):
        raise TypeError("not true or false")
    return value


def count(value: object) -> int:
    """A whole number from 0 on. Raises TypeError or ValueError."""
    if type(value) is not int or value < 0:
        raise TypeError("not a whole number from 0 on")
    return value


def finite(value: object) -> float:
    """A number as JSON has it. Raises TypeError and ValueError for what is none that can be reckoned with."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError("not a number")
    try:
        number = float(value)
    except OverflowError:  # a whole number of hundreds of digits
        number = math.inf
    if not math.isfinite(number):
        raise ValueError("not a finite number")
    return number


def maybe_number(value: object) -> float | None:
    """A number, or None. Raises TypeError or ValueError."""
    return None if value is None else finite(value)


def texts(value: object) -> tuple[str, ...]:
    """A list of texts, as a tuple. Raises TypeError or ValueError."""
    if not isinstance(value, list | tuple):
        raise TypeError("not a list of texts")
    return tuple(map(text, value))


def map_of(read: Callable[[object], Any]) -> Callable[[object], dict[str, Any]]:
    """A reader of mappings from texts to what `read` reads. Raises TypeError or ValueError."""

    def reader(value: object) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise TypeError("not a mapping")
        return {text(key): read(item) for key, item in value.items()}

    return reader


def one_of(words: tuple[str, ...]) -> Callable[[object], str]:
    """A reader of one of these words. Raises TypeError or ValueError."""

    def reader(value: object) -> str:
        if value not in words:
            raise ValueError(f"it is one of {', '.join(words)}")
        return str(value)

    return reader
