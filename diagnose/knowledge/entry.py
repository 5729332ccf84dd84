"""One record as read, before it is built: what files and overlays are merged as."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.forms.fields import Values, Word


@dataclass(frozen=True, slots=True)
class Entry:
    """Its section, id, fields, and the file that it stands in."""

    section: str
    id: Word
    values: Values
    file: Values
