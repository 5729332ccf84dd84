"""The page of the knowledge format names what a file may hold, and its examples can be read."""

from __future__ import annotations

import re
from pathlib import Path

from diagnose.knowledge import loader
from diagnose.knowledge.sections.file import SECTIONS

PAGE = (Path(__file__).parents[1] / "docs" / "knowledge-format.md").read_text(encoding="utf-8")
FORM = ("K010", "K011", "K012", "K014", "K015", "K021", "K023", "K024", "K025", "K026", "K028")
"""What is wrong with one record by itself; the examples point to records that the page does not show."""
HEAD = "system: hydraulic_injection\ndefault_basis: {basis: judgement, ess: 10}\n"


def test_every_field_is_named() -> None:
    fields = {name for shape in SECTIONS.values() for name in shape.fields}
    assert {name for name in fields if not re.search(rf"\b{name}(`|:)", PAGE)} == set()


def test_the_examples_have_the_form(tmp_path: Path) -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    whole = [block for block in blocks if not block.startswith(" ")]
    assert len(whole) > 6
    for number, block in enumerate(whole):
        head = "" if "default_basis" in block else HEAD
        (tmp_path / f"{number}.yaml").write_text(head + block, encoding="utf-8")
    found = loader.check(tmp_path)[1]
    assert [str(one) for one in found if one.code in FORM] == []
