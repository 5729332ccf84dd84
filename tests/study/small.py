"""A small knowledge in which it is plain what can be told apart: two pumps alike but for a look inside one of them,
twins that nothing tells apart, a check that another makes needless, and a finding that never matters. A handbook
gives one number and names one link."""

from __future__ import annotations

from diagnose.knowledge.assemble import assemble
from diagnose.knowledge.files import FileText
from diagnose.knowledge.records import Knowledge

SMALL = """
system: fuel
name: Fuel
default_basis: {basis: judgement, ess: 10}
sources:
  handbook: {title: A handbook, confidence: read}
access:
  cover_off: {name: cover off, minutes: 20, restore: 10}
causes:
  filter_plugged:
    name: Filter plugged
    part: filter
    share: {p: 0.05, basis: handbook, ess: 40}
    leads_to: {starved: 0.9, filter_found_dirty: 0.8}
  pump_worn:
    name: Pump worn
    part: pump
    share: {p: 0.04, basis: common practice, ess: 20}
    leads_to: {starved: {p: 0.9, source: handbook}, pump_found_worn: 0.9}
  first_twin:
    name: First twin
    part: pipe
    share: 0.03
    leads_to: {starved: 0.5, pipe_found_kinked: 0.9}
  second_twin:
    name: Second twin
    part: pipe
    share: 0.02
    leads_to: {starved: 0.5, pipe_found_kinked: 0.9}
conditions:
  starved:
    name: Starved
    leak: 0.01
    leads_to: {stalls: 0.8, hums: 0.1}
findings:
  stalls: {name: Stalls, kind: symptom, observe: It stops., leak: 0.02, complaint: {other: 0.01}}
  hums: {name: Hums, kind: symptom, observe: It hums., leak: 0.3}
  filter_found_dirty: {name: Filter found dirty, kind: inspection, observe: Look., leak: 0.01}
  pump_found_worn: {name: Pump found worn, kind: inspection, observe: Look., leak: 0.01}
  pipe_found_kinked: {name: Pipe found kinked, kind: inspection, observe: Look., leak: 0.01}
checks:
  open_filter: {name: Open the filter, minutes: 10, reveals: [filter_found_dirty]}
  open_filter_slowly: {name: Open the filter slowly, minutes: 30, reveals: [filter_found_dirty]}
  open_pump: {name: Open the pump, minutes: 15, access: [cover_off], reveals: [pump_found_worn]}
  look_at_pipe: {name: Look at the pipe, minutes: 5, reveals: [pipe_found_kinked]}
repairs:
  new_filter: {name: New filter, minutes: 10, cures: {filter_plugged: 0.99}}
  new_pump: {name: New pump, minutes: 60, cures: {pump_worn: 0.95}}
  new_pipe: {name: New pipe, minutes: 60, cures: {first_twin: 0.95, second_twin: 0.95}}
"""


def small() -> Knowledge:
    knowledge, problems = assemble([FileText("small.yaml", SMALL.encode())])
    assert knowledge, "\n".join(map(str, problems))
    return knowledge
