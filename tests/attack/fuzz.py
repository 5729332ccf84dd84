"""Random calls on random files: no traceback, no forged line, no control character, no exit code but those told."""

from __future__ import annotations

import json
import os
import random
import re
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path

from click.testing import CliRunner, Result

from diagnose.cli.main import program
from tests.test_plain import obeyed

KNOWLEDGE = Path(__file__).parents[1] / "cli" / "knowledge"
MARK = "STOP NOW nothing: RUN ON"
PIECES = (  # of what a text can hold
    "\x1b[2J",
    "\x1b]0;x\x07",
    "\x9b31m",
    "\u202e",
    "\r",
    "\n",
    "\0",
    "\x7f",
    "\udce9",
    "\ufeff",
    "\u2028",
    "\x85",
    f"\n{MARK}",
    f"\r\n{MARK}\n",
    "'",
    '"',
    "{",
    "}",
    "[",
    "]",
    ":",
    "- ",
    "#",
    "&a",
    "*a",
    "!t",
    "|",
    ">",
    "%",
    "@",
    "1e308",
    "9" * 401,
    "-1",
    "nan",
    "inf",
    "0x1f",
    "1_000",
    "null",
    "true",
    "yes",
    "~",
    "",
    " ",
    "\t",
    "\\e[2J",
    "=cmd|'/c'",
    "x" * 5000,
    "ß",
    "日本",
    "🛠",
    "\u0301",
    "12.4 V",
    "SPN 164 FMI 18",
    "P0201",
)
WORDS = """
rail_pressure = low; no_start; steam_white; metal in the oil filter; battery at rest 12.4 V;
pump_worn; cut_filter; replace_pump; cover_off; duty=off road; new_six; 1; 2; 99; white smoke; no
leaks
"""
CALLS = """
new W W; new W --hours W; new W --fact W; new --scenario F.yaml; note W; note W W --text W; note
--text W; note --check W; note --opened W --text W; note --repaired W; note --not W; note W --state
W; note --hours W; withdraw W; cases; cases W; cases -f F.yaml; causes; causes -c W; causes -f
F.yaml; causes -f F.jsonl; next -n W; why W; repair; report; report -o O.md; report -f F.yaml; close
W --text W; reopen W; codes F.log; codes F.log --note; codes F.asc; codes F.csv; codes F.trc; codes
F.log.gz; shop; learn -f F.jsonl; learn -f F.csv; learn export O.csv --named; learn export O.jsonl
-f F.csv; understand W; knowledge find W; knowledge show W; knowledge check; store verify; store
rescue O.sqlite; W; W W
"""
SCENARIO = (
    "scenario: s\ntitle: t\nmachine: {number: D-07, family: new_six, hours: 100}\ncomplaint: no start\nevents:\n"
    "  - note: no_start\n  - reading: battery voltage at rest\n    value: 12.4 V\n  - code: SPN 164 FMI 18\n"
    "  - repaired: [replace_pump]\n    text: done\nexpect: {causes: [pump_worn], within: 3}\n"
)
LESSON = json.dumps(
    {"format": "diagnose.case/1", "case": "1", "machine": {"number": "D", "hours": 5.0}, "complaint": "no start",
     "epochs": [{"seen": [{"finding": "no_start", "state": "present"}]}],
     "outcome": {"closed": "2024-01-01", "causes": [{"cause": "pump_worn", "confirmed": "by sight"}]}}
)  # fmt: skip
TABLE = (
    "case,epoch,item,id,value,confidence,reading,unit,code,text\n"
    "1,0,seen,no_start,present,,,,,\n1,,closed,,2024-01-01,,,,,\n"
)
LOG = (
    "(1.0) can0 18FECA00#04FFA4001201FFFF\n(1.1) can0 1CECFF00#20120003FFCAFE00\n"
    "(1.2) can0 1CEBFF00#0104FFA400120164\n"
)
BASES = {
    "yaml": SCENARIO,
    "jsonl": f"{LESSON}\n{LESSON}\n",
    "csv": TABLE,
    "log": LOG,
    "asc": LOG,
    "trc": LOG,
    "gz": LOG,
}
SHOP, OVERLAY = "labour: 95\ncurrency: EUR\nprices: {pump: 5}\n", "causes:\n  pump_worn: {name: x}\n"


@cache
def _listed(text: str) -> tuple[str, ...]:
    return tuple(" ".join(one.split()) for one in text.split(";"))


def spoilt(text: str, draw: random.Random) -> bytes:
    """The text with pieces put in, taken out or doubled; at times bytes that are no text."""
    for _ in range(draw.choice((0, 1, 1, 2, 5))):
        place = draw.randrange(len(text) + 1)
        act = draw.randrange(4)
        if act == 0:
            text = text[:place] + draw.choice(PIECES) + text[place:]
        elif act == 1:
            text = text[:place] + text[place + draw.randrange(20) :]
        elif act == 2:
            text += text[place : place + 200]
        else:
            text = re.sub(
                r"[\w.-]+", lambda found: draw.choice((found[0], draw.choice(PIECES))), text, count=1
            )
    content = text.encode("utf-8", "surrogateescape" if draw.random() < 0.5 else "replace")
    if draw.random() < 0.1:
        content = draw.choice(
            (content.decode("latin-1").encode("utf-16"), draw.randbytes(300), b"", content * 50)
        )
    return content


def call(draw: random.Random, folder: Path) -> list[str]:
    """The words of a call; the files that it names are made."""
    words: list[str] = []
    for option, text in (("--shop", SHOP), ("--overlay", OVERLAY)):
        if draw.random() < 0.1:
            (folder / option).with_suffix(".yaml").write_bytes(spoilt(text, draw))
            words += [option, str((folder / option).with_suffix(".yaml"))]
    for part in draw.choice(_listed(CALLS)).split():
        if part == "W":
            words.append(draw.choice(_listed(WORDS)) if draw.random() < 0.5 else _word(draw))
        elif part.startswith("F."):
            file = folder / f"in{draw.choice(('', chr(10) + MARK, chr(27) + '[2J'))}{part[1:]}"
            file.write_bytes(spoilt(BASES[part.rpartition(".")[2]], draw))
            words.append(str(file))
        elif part.startswith("O."):
            words.append(str(folder / f"out{draw.randrange(10**6)}{part[1:]}"))
        else:
            words.append(part)
    return [*words, *(["--json"] if draw.random() < 0.2 else [])]


def _word(draw: random.Random) -> str:
    text = draw.choice(_listed(WORDS))
    place = draw.randrange(len(text) + 1)
    return text[:place] + draw.choice(PIECES) + text[place:]


def wrong(words: list[str]) -> tuple[int, str]:
    """The exit code of a call, and what is wrong with the answer; empty where nothing is."""
    began = time.process_time()
    result = CliRunner().invoke(program, words, input="")
    seconds = time.process_time() - began
    return result.exit_code, _wrong(result, seconds)


def _wrong(result: Result, seconds: float) -> str:
    if result.exception and not isinstance(result.exception, SystemExit):
        return f"{type(result.exception).__name__}: {result.exception}"
    if result.exit_code not in (0, 1, 2, 3):
        return f"exit code {result.exit_code}"
    if found := obeyed(result.output) - {"\n"}:
        return f"raw {found!r}"
    if any(line.lstrip().startswith(MARK) for line in result.output.splitlines()):
        return "a forged line"
    return f"{seconds:.0f} s" if seconds > 10 else ""


def attack(seconds: float, seed: int = 0, told: Callable[[str], object] = print) -> Counter[str]:
    """Calls for so many seconds, 40 on each store; how many there were, by exit code, and how many went wrong."""
    draw, found = random.Random(seed), Counter[str]()
    until = time.monotonic() + seconds
    before = dict(os.environ)
    try:
        while time.monotonic() < until:
            with tempfile.TemporaryDirectory() as name:
                os.environ |= {"DIAGNOSE_KNOWLEDGE": str(KNOWLEDGE), "DIAGNOSE_CASES": f"{name}/cases.sqlite"}
                for _ in range(40):
                    words = call(draw, Path(name))
                    found["calls"] += 1
                    code, said = wrong(words)
                    found[f"exit code {code}"] += 1
                    if said:
                        found["wrong"] += 1
                        told(f"{said}: {words!r}"[:600])
                    if time.monotonic() > until:
                        break
    finally:
        os.environ.clear()
        os.environ |= before
    return found
