"""Whether two texts of like words say the same: no and none, in and out of, hot and cold."""

from __future__ import annotations

from diagnose.words.normal import LACK, OPPOSITES


def damping(words: tuple[str, ...], others: tuple[str, ...]) -> float:
    """Below 1 where the words are alike but the sense is not.

    "No" on one side only, "in" turned round, hot where cold was typed, or a stored code where only its condition
    was.
    """
    sense = 1.0 if ("no" in words) == ("no" in others) or _both_lack(words, others) else 0.75
    code = 0.9 if "code" in others and "code" not in words else 1.0
    reverse = 0.85 if _says_the_opposite(words, others) else 1.0
    denial = 0.75 if _denied(words, others) else 1.0
    return sense * denial * code * reverse * (0.6 if _turned_round(words, others) else 1.0)


def _denied(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    """One side says "no" right before a word that the other says without: no crank and no click, clicks but no
    crank."""
    return any(
        word in plain and word not in _after_no(plain, 2)
        for said, plain in ((words, others), (others, words))
        for word in _after_no(said, 1)
    )


def _after_no(words: tuple[str, ...], reach: int) -> set[str]:
    return {word for i, no in enumerate(words) if no == "no" for word in words[i + 1 : i + 1 + reach]}


def _says_the_opposite(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    """A phrase about both ("good cold, low hot") is still about more than was typed."""
    return any(
        opposite in others and opposite not in words for word in words for opposite in OPPOSITES.get(word, ())
    )


def _both_lack(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    return not LACK.isdisjoint(words) and not LACK.isdisjoint(others)


def _turned_round(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    """Oil in coolant against coolant in oil; the exhaust smells of coolant against the reverse."""
    return any(
        _crossed(words, others, pivot) for pivot in ("in", "smell") if pivot in words and pivot in others
    )


def _crossed(words: tuple[str, ...], others: tuple[str, ...], pivot: str) -> bool:
    """More words stand on the other side of the pivot than on the same."""
    (left, right), (other_left, other_right) = _sides(words, pivot), _sides(others, pivot)
    return len(left & other_right) + len(right & other_left) > len(left & other_left) + len(
        right & other_right
    )


def _sides(words: tuple[str, ...], pivot: str) -> tuple[set[str], set[str]]:
    middle = words.index(pivot)
    return set(words[:middle]), set(words[middle + 1 :])
