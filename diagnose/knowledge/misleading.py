"""How often an observation itself misleads."""

from __future__ import annotations

MISLEADS = {"symptom": 0.3, "reading": 0.5, "code": 0.6, "inspection": 0.4, "question": 0.6}
"""Of the showings of a finding that no listed cause explains, the share in which the observation itself
misleads, by kind, where the finding does not say it (judgement): a code can be stored by a glitch, a driver
can be wrong."""
MISLEADS_ELSE = 0.5
"""The share for a kind that is not in the list (judgement: the middle of theirs)."""
