"""A large valid knowledge of made-up records, for measuring: one file a system, about 28 lines a cause."""

from __future__ import annotations

from pathlib import Path

HEAD = """\
system: system_{s}
name: System {s}
about: Made up to measure.
default_basis: {{basis: judgement, ess: 10}}
"""
SECTIONS = {
    "access": """\
  open_{s}_{i}:
    name: cover {s} {i} off
    minutes: 30
    restore: 30
""",
    "causes": """\
  part_worn_{s}_{i}:
    name: Part {s} {i} worn
    part: part {s} {i}
    about: Wears and lets oil past.
    share: {{p: 0.02, basis: judgement, ess: 20}}
    age: {{shape: 2.5, reference: 8000}}
    leads_to:
      state_{s}_{i}: {{to: {{low: 0.3, none: 0.6}}, basis: common practice, ess: 20}}
      seen_{s}_{i}: 0.7
""",
    "conditions": """\
  state_{s}_{i}:
    name: Pressure {s} {i}
    states: [normal, low, none]
    leak: {{low: 0.004, none: 0.001}}
    leads_to:
      seen_{s}_{i}: {{by_state: {{low: 0.7, none: 0.95}}}}
""",
    "findings": """\
  seen_{s}_{i}:
    name: Thing {s} {i} seen
    kind: inspection
    aliases: [thing {s} {i}, thingy {s} {i}]
    observe: Look at thing {s} {i}.
    leak: 0.001
""",
    "checks": """\
  look_{s}_{i}:
    name: Look at {s} {i}
    minutes: {{minutes: 25, basis: judgement, ess: 5}}
    access: [open_{s}_{i}]
    reveals: [seen_{s}_{i}]
    steps: [Clean it., Look at it.]
""",
    "repairs": """\
  replace_{s}_{i}:
    name: Replace part {s} {i}
    minutes: 60
    parts:
      - {{name: part {s} {i}, price: 100}}
    cures: {{part_worn_{s}_{i}: 0.97}}
""",
}


def write(folder: Path, systems: int, causes: int) -> int:
    """Writes the files; returns the number of lines."""
    lines = 0
    for s in range(systems):
        bodies = (
            f"{section}:\n" + "".join(text.format(s=s, i=i) for i in range(causes))
            for section, text in SECTIONS.items()
        )
        content = HEAD.format(s=s) + "".join(bodies)
        (folder / f"system_{s}.yaml").write_text(content, encoding="utf-8")
        lines += content.count("\n")
    return lines
