"""Fault codes as people type them: SPN/FMI (SAE J1939-73) and trouble codes such as P2291 (SAE J2012)."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path

from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge

LARGEST_SPN = 524287  # 19 bits; 0 and all ones say "no code"
MAKER_SPNS = range(520192, LARGEST_SPN + 1)
RESERVED_FMIS = range(22, 31)
KIND_ALONE = re.compile(r"FMI (\d{1,2})")
"""How the knowledge lists a kind of fault of any part."""
LARGEST_COUNT = 126  # 7 bits; 127 says "not available"
EXAMPLES = "SPN 164 FMI 18, 164/18, s164 f18 x3, P2291, P20EE-17"

ACTIVE, PREVIOUS, PENDING = "active", "previously active", "pending"


@dataclass(frozen=True, slots=True)
class Code:
    """One fault code: either `spn` with `fmi`, or `trouble` (P2291) with perhaps its `failure_type` byte.

    `count` is how often it came (1 to 126) and `status` active, previously active or pending; None and ""
    where the text does not say.
    """

    spn: int | None = None
    fmi: int | None = None
    trouble: str = ""
    failure_type: int | None = None
    count: int | None = None
    status: str = ""

    @property
    def text(self) -> str:
        """The one canonical writing of the fault, without count and status."""
        if self.trouble:
            return self.trouble + ("" if self.failure_type is None else f"-{self.failure_type:02X}")
        return f"SPN {self.spn} FMI {self.fmi}"

    @property
    def reserved(self) -> bool:
        """The FMI has no agreed meaning: keep the code, conclude nothing from the FMI."""
        return self.fmi in RESERVED_FMIS

    def __str__(self) -> str:
        count = f"x{self.count}" if self.count else ""
        return " ".join(part for part in (self.text, count, self.status) if part)


_STATUS = (  # the longer words first
    (
        PREVIOUS,
        re.compile(r"\b(previously[ -]active|previous(ly)?|inactive|not active|history|historic)\b"),
    ),
    ("", re.compile(r"\bstored\b")),  # may be active or not
    (PENDING, re.compile(r"\bpending\b")),
    (ACTIVE, re.compile(r"\b(active|current|present)\b")),
)
_COUNT = re.compile(
    r"(?:\s+|^)(?:[x×*]\s*(\d{1,9})|(\d{1,9})\s*(?:x|×|times)|(?:count|oc)\s*[:=]?\s*(\d{1,9}))(?=\s|$)"
)
_SPN_FMI = re.compile(
    r"(?:spn|s)?\s*[:=#]?\s*(\d{1,9})(?:\s*[/,;:-]\s*|\s+|(?=f))(?:fmi|f)?\s*[:=#]?\s*(\d{1,9})"
)
_SPN_ALONE = re.compile(r"(?:spn|s)\s*[:=#]?\s*(\d{1,9})")
_TROUBLE = re.compile(r"([pcbu])\s?([0-3][0-9a-f]{3})(?:\s*[-:/ ]\s*([0-9a-f]{2})h?)?")


def parse_code(text: str) -> Code:
    """A code in any usual writing, with count (`x3`) and status (`active`, `pending`, ...) where given.

    Raises CallError with example forms for anything else, and for numbers out of range.
    """
    rest, status = _take_status(" ".join(text.lower().split()))
    rest, count = _take_count(rest)
    return replace(_bare_code(rest.strip(" ,;."), text), count=count, status=status)


def explain(code: Code) -> str:
    """What a code says, in plain words: the part, and the kind of fault that its FMI allows."""
    if code.trouble:
        return _explain_trouble(code)
    return f"{code}: {_spn_name(code.spn or 0)}: {_fmi_words(code.fmi or 0)}"


def part_of(spn: int) -> str:
    """The part or value that an SPN stands for."""
    return _spn_name(spn)


def kind_of_fault(fmi: int) -> str:
    """What kind of fault an FMI allows."""
    return _fmi_words(fmi)


def findings_for(knowledge: Knowledge, code: Code) -> tuple[str, ...]:
    """The ids of the findings that a code stands for, in file order.

    Those that list it; a finding that lists a trouble code without failure type means all its failure types.
    Where none does: those of the SPN and FMI that say nearly the same as a trouble code. Where none does
    either: those that list its kind of fault alone (`FMI 3`), whatever the part.
    """
    for one in filter(None, (code, _near(code))):
        if ids := _listing(knowledge, partial(_in_full, code=one)):
            return ids
    fmi = code.fmi if code.spn else getattr(_near(code), "fmi", None)
    return _listing(knowledge, lambda text: _kind_listed(text) == str(fmi))


def _listing(knowledge: Knowledge, listed: Callable[[str], bool]) -> tuple[str, ...]:
    return tuple(f.id for f in knowledge.findings.values() if any(listed(text) for text in f.codes))


def _in_full(text: str, code: Code) -> bool:
    """Whether a listing covers this code, and not by its kind of fault alone."""
    return not _kind_listed(text) and _covers(_listed(text), code)


@lru_cache(maxsize=1 << 13)
def _kind_listed(text: str) -> str:
    """The FMI of a listing that names a kind of fault alone, such as `FMI 3`; else nothing."""
    found = KIND_ALONE.fullmatch(text)
    return found[1] if found else ""


def _near(code: Code) -> Code | None:
    """The SPN and FMI that say nearly the same as a trouble code of the table."""
    row = _table("pcodes.csv").get(code.trouble)
    found = re.match(r"(\d+)/(\d+)", row["near"]) if row else None
    return Code(spn=int(found[1]), fmi=int(found[2])) if found else None


@lru_cache(maxsize=1 << 13)
def _listed(text: str) -> Code:
    """A code as the knowledge lists it; read once, for there are over a thousand and a log asks for many."""
    return parse_code(text)


def _covers(listed: Code, seen: Code) -> bool:
    if listed.trouble and listed.failure_type is None:
        return listed.trouble == seen.trouble
    return listed.text == seen.text


# ---- text -> code ----


def _take_status(text: str) -> tuple[str, str]:
    for status, pattern in _STATUS:
        if pattern.search(text):
            return pattern.sub(" ", text), status
    return text, ""


def _take_count(text: str) -> tuple[str, int | None]:
    found = _COUNT.search(text)
    if not found:
        return text, None
    count = int(next(filter(None, found.groups())))
    if not 1 <= count <= LARGEST_COUNT:
        raise CallError(f"A code's count is 1 to {LARGEST_COUNT}, not {count}.")
    return _COUNT.sub(" ", text, count=1), count


def _bare_code(rest: str, text: str) -> Code:
    if found := _TROUBLE.fullmatch(rest):
        failure_type = int(found[3], 16) if found[3] else None
        return Code(trouble=(found[1] + found[2]).upper(), failure_type=failure_type)
    if found := _SPN_FMI.fullmatch(rest):
        return Code(spn=_spn(int(found[1])), fmi=_fmi(int(found[2])))
    if found := _SPN_ALONE.fullmatch(rest):
        raise CallError(f"SPN {found[1]} needs its FMI: write for example SPN {found[1]} FMI 4.")
    raise CallError(
        f"{text!r} is not a fault code. Write it like one of these: {EXAMPLES}.", _letters_meant(rest)
    )


def _letters_meant(rest: str) -> list[str]:
    """The letter O typed for a zero, or I for a one."""
    digits = rest[:1] + rest[1:].replace("o", "0").replace("i", "1").replace("l", "1")
    found = _TROUBLE.fullmatch(digits)
    return [digits.upper()] if found and digits != rest else []


def _spn(number: int) -> int:
    if 0 < number < LARGEST_SPN:
        return number
    raise CallError(
        f"An SPN is 1 to {LARGEST_SPN - 1} (0 and {LARGEST_SPN} mean that no code is set), not {number}."
    )


def _fmi(number: int) -> int:
    if 0 <= number <= 31:
        return number
    raise CallError(f"An FMI is 0 to 31, not {number}.")


# ---- code -> words ----


def _spn_name(spn: int) -> str:
    row = _table("spn.csv").get(str(spn))
    if row:
        return row["name"]
    if spn in MAKER_SPNS:
        return "a number of the maker's own (see the engine maker's service information)"
    return "not in the table here (see the engine maker's service information)"


def _fmi_words(fmi: int) -> str:
    if fmi in RESERVED_FMIS:
        return f"FMI {fmi} is reserved and has no agreed meaning; kept as read."
    row = _table("fmi.csv")[str(fmi)]
    return f"{row['name']} ({row['class']}). {row['meaning']}."


def _explain_trouble(code: Code) -> str:
    row = _table("pcodes.csv").get(code.trouble)
    if not row:
        return f"{code}: not in the table here (see the engine maker's service information)."
    near = _near(code)
    kind = f" Kind of fault, by judgement: {_fmi_words(near.fmi or 0)}" if near else ""
    return f"{code}: {row['name']}.{kind}"


@lru_cache(maxsize=3)
def _table(name: str) -> Mapping[str, Mapping[str, str]]:
    """A table beside this module, by its first column; its sources stand in SOURCES.md."""
    text = (Path(__file__).parent / name).read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    return {next(iter(row.values())): row for row in rows}
