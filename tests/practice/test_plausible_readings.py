"""A drawn reading lies in the state that the hidden machine is in."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Opened
from diagnose.knowledge.readings import states_for
from diagnose.practice.plausible_readings import plausible
from tests.shipped import shipped_knowledge


@pytest.mark.parametrize(
    "facts",
    [{}, {"system_voltage": "24 V", "injection": "pump-line-nozzle"}, {"injection": "common rail"}],
    ids=["nothing known", "24 V", "common rail"],
)
def test_every_reading_of_the_shipped_knowledge_can_be_drawn(facts: dict[str, str]) -> None:
    known, rng, drawn, hopeless = shipped_knowledge(), np.random.default_rng(2), 0, []
    case = fold(1, [Opened("P-01", facts=facts)])
    for finding in known.findings.values():
        if finding.reading is None:
            continue
        for state in finding.states:
            value = plausible(known, finding, {finding.id: state}, rng, case)
            if value is None:
                hopeless.append((finding.id, state))
                continue
            drawn += 1
            assert dict(states_for(known, finding.reading.quantity, value, facts))[finding.id] == state
            assert value.unit
    assert drawn > 100
    assert len(hopeless) <= 0.05 * drawn, hopeless
