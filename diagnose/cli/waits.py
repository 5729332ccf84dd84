"""What a case can wait for, as it is typed."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.cases.events import COOLING, CUSTOMER, NOTHING, PARTS, Waiting

WAITS: Mapping[str, Waiting] = {"parts": PARTS, "customer": CUSTOMER, "cooling-down": COOLING}
GOES_ON: Mapping[str, Waiting] = {"nothing": NOTHING}
