"""What the program is made of besides itself, by what is installed here: `python -m tests.supply WHAT`.

`constraints`: the versions that were tested, for `pip install -c`; `bill`: a bill of materials (CycloneDX, JSON);
`licences`: the page docs/licences.md. With everything that its dependencies need, extras of theirs left out.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution

PROGRAM = "diesel-diagnose"
EXTRAS = ("pgmpy", "plots", "can", "pdf", "tables", "test")
_NEED = re.compile(r"([A-Za-z0-9._-]+)(?:\[[^\]]*\])?[^;]*(?:;(.*))?")
_EXTRA = re.compile(r"extra\s*==\s*['\"]([^'\"]+)['\"]")


@dataclass(frozen=True, order=True)
class Part:
    """A package. `of`: the extra that it comes with, empty where the program always needs it."""

    name: str
    version: str
    licence: str
    of: str


def parts() -> list[Part]:
    """All packages that the program needs and that are installed here, by name."""
    found: dict[str, Part] = {}
    for extra in ("", *EXTRAS):
        for name in _needed(distribution(PROGRAM), extra):
            _add(found, name, extra)
    return sorted(found.values())


def _add(found: dict[str, Part], name: str, extra: str) -> None:
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in found or key == PROGRAM:
        return
    try:
        installed = distribution(name)
    except PackageNotFoundError:
        return  # of another system or an older Python
    found[key] = Part(key, installed.version, _licence(installed), extra)
    for further in _needed(installed, ""):
        _add(found, further, extra)


def _needed(installed: Distribution, extra: str) -> Iterator[str]:
    for line in installed.requires or ():
        match = _NEED.match(line)
        of = _EXTRA.search((match and match[2]) or "")
        if match and (of[1] if of else "") == extra:
            yield match[1]


def _licence(installed: Distribution) -> str:
    """What the package says of itself: the SPDX expression, else its classifiers, else a short licence field."""
    said = installed.metadata
    classified = [
        line.rpartition(" :: ")[2]
        for line in said.get_all("Classifier") or ()
        if line.startswith("License ::")
    ]
    field = str(said["License"] or "").strip().splitlines() if "License" in said else []
    short = field[0] if field and len(field[0]) < 60 else ""
    spdx = str(said["License-Expression"]) if "License-Expression" in said else ""
    return spdx or ", ".join(classified) or short or "see the package"


def constraints() -> str:
    """A line for each package."""
    head = "# Versions tested together, for pip install -c; made by python -m tests.supply constraints"
    return "\n".join([head, *(f"{part.name}=={part.version.partition('+')[0]}" for part in parts())])


def bill() -> str:
    """The bill of materials (https://cyclonedx.org/docs/1.5/json/)."""
    components = [
        {
            "type": "library",
            "name": part.name,
            "version": part.version,
            "purl": f"pkg:pypi/{part.name}@{part.version}",
            "licenses": [{"license": {"name": part.licence}}],
            "scope": "optional" if part.of else "required",
        }
        for part in parts()
    ]
    program = {"type": "application", "name": PROGRAM, "version": distribution(PROGRAM).version}
    head = {"bomFormat": "CycloneDX", "specVersion": "1.5", "version": 1, "metadata": {"component": program}}
    return json.dumps(head | {"components": components}, indent=1)


def licences() -> str:
    """The page of the licences."""
    rows = [f"| {part.name} | {part.licence.replace('|', '/')} | {part.of or 'always'} |" for part in parts()]
    head = (
        "# Licences of what the program needs",
        "",
        "As each package says of itself. Made by `python -m tests.supply licences`; the same with versions, as a",
        "bill of materials: `python -m tests.supply bill`. The third column: the extra it comes with.",
        "",
        "| package | licence | comes with |",
        "|---|---|---|",
    )
    return "\n".join([*head, *rows])


if __name__ == "__main__":
    print({"constraints": constraints, "bill": bill, "licences": licences}[sys.argv[1]]())
