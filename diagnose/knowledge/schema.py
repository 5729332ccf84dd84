"""The JSON Schema of a knowledge file, for editors."""

from __future__ import annotations

from diagnose.forms.fields import Schema
from diagnose.knowledge.sections.file import FILE


def schema() -> Schema:
    """JSON Schema (draft 2020-12) of one knowledge file, from the declarations of its sections."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Knowledge file of diesel-diagnose",
        **FILE.schema(),
    }
