"""What is said, understood: a text becomes findings, readings, codes, history and circumstances."""

from diagnose.understanding.parsing import findings_in, understand
from diagnose.understanding.parts import Alternative, TextPart, Understanding

__all__ = ["Alternative", "TextPart", "Understanding", "findings_in", "understand"]
