"""What is said, understood: a text becomes findings, readings, codes, history and circumstances."""

from diagnose.understanding.assemble import understand
from diagnose.understanding.parts import Alternative, Part, Understanding

__all__ = ["Alternative", "Part", "Understanding", "understand"]
