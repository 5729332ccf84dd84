"""The page of the rules and the JSON Schema of a knowledge file."""

from __future__ import annotations

import json
from pathlib import Path

from diagnose.knowledge.rules import page
from diagnose.knowledge.schema import schema

DOCS = Path(__file__).resolve().parents[2] / "docs"


def generated() -> dict[Path, str]:
    """Content of both files."""
    return {
        DOCS / "knowledge.schema.json": json.dumps(schema(), indent=1) + "\n",
        DOCS / "rules.md": page(),
    }
