"""The pages on cases and scenarios say what the program does."""

import re
from pathlib import Path

import diagnose
from diagnose.cases import scenario as scenarios
from diagnose.cases.events import KINDS
from diagnose.cases.store import CASES
from tests.cases.test_scenario import plough, small

ROOT = Path(diagnose.__file__).parents[1]
STORE = (ROOT / "docs" / "case-store.md").read_text(encoding="utf-8")
SCENARIOS = (ROOT / "docs" / "scenarios.md").read_text(encoding="utf-8")


def test_the_example_is_a_scenario() -> None:
    (text,) = re.findall(r"```yaml\n(.*?)```", SCENARIOS, re.DOTALL)
    example = scenarios.loads(text, "docs/scenarios.md", small())
    assert example.id == plough().id
    assert example.case().epochs == plough_without_the_unused_code()


def plough_without_the_unused_code() -> object:
    """The same story; the example has one event less before the repair."""
    text = (Path(__file__).parent / "plough.yaml").read_text(encoding="utf-8")
    return scenarios.loads(text.replace("  - code: SPN 100 FMI 1\n", ""), "x.yaml", small()).case().epochs


def test_every_code_and_kind_is_explained() -> None:
    """Those of the stores are a letter of their format and a number, the same for cases and exercises."""
    source, stores = (
        "".join(file.read_text(encoding="utf-8") for file in (ROOT / "diagnose" / name).glob("*.py"))
        for name in ("cases", "append_only")
    )
    used = set(re.findall(r'"([CS]\d{3})"', source))
    used |= {f"{CASES.letter}{number}" for number in re.findall(r'"(\d{3})"', stores)}
    assert used == set(re.findall(r"^\| ([CS]\d{3}) \|", STORE + SCENARIOS, re.MULTILINE))
    assert set(KINDS) == set(re.findall(r"`(\w+)`", STORE)) & set(KINDS)
