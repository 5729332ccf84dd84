"""The constraints, the bill of materials and the licences name every dependency that pyproject.toml has."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

from tests import supply

ROOT = Path(__file__).parents[1]


def declared() -> set[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = (line for extra in project["optional-dependencies"].values() for line in extra)
    names = (re.split(r"[\[<>=~! ]", line)[0] for line in (*project["dependencies"], *extras))
    return {re.sub(r"[-_.]+", "-", name).lower() for name in names} - {"diesel-diagnose"}


def test_every_dependency_has_a_tested_version() -> None:
    lines = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    assert declared() <= {line.partition("==")[0] for line in lines if "==" in line}


def test_every_dependency_has_its_licence_on_the_page() -> None:
    page = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    assert declared() <= set(re.findall(r"^\| ([a-z0-9-]+) \|", page, re.MULTILINE))


def test_the_bill_of_materials_is_whole() -> None:
    """The fields that CycloneDX 1.5 demands."""
    values = json.loads(supply.bill())
    assert (values["bomFormat"], values["specVersion"]) == ("CycloneDX", "1.5")
    assert {"click", "numpy", "pyyaml", "rich"} <= {one["name"] for one in values["components"]}
    assert all(one["version"] and one["purl"].startswith("pkg:pypi/") for one in values["components"])


def test_what_is_always_needed_is_known_as_such() -> None:
    always = {part.name for part in supply.parts() if not part.of}
    assert {"click", "jinja2", "markupsafe", "numpy", "rich"} <= always
    assert not always & {"pandas", "matplotlib", "pytest", "pgmpy"}
