"""The generated files: the JSON Schema of a knowledge file, for editors, and the page of the rules."""

from __future__ import annotations

import json
from pathlib import Path

from diagnose.knowledge.fields import Schema
from diagnose.knowledge.rules import page
from diagnose.knowledge.sections.file import FILE

DOCS = Path(__file__).resolve().parents[2] / "docs"


def schema() -> Schema:
    """JSON Schema (draft 2020-12) of one knowledge file, from the declarations of its sections."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Knowledge file of diesel-diagnose",
        **FILE.schema(),
    }


def generated() -> dict[Path, str]:
    """Content of every generated file of the documentation."""
    return {
        DOCS / "knowledge.schema.json": json.dumps(schema(), indent=1) + "\n",
        DOCS / "rules.md": page(),
    }


def main() -> None:
    """Write the generated files."""
    for path, content in generated().items():
        path.write_text(content, encoding="utf-8")


if __name__ == "__main__":
    main()
