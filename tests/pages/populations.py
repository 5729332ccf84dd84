"""Published rates and shares of faults (populations.yaml), brought to events per 1,000 running hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import log
from pathlib import Path
from typing import Any

import yaml

FILE = Path(__file__).with_name("populations.yaml")
KM_A_MILE = 1.609344  # exact


@dataclass(frozen=True, slots=True)
class Population:
    """One published population.

    `figures`: events per 1,000 running hours, or per 1,000 starts where `by_start`; `assumed`: how they became
    hours; `systems`: those of ours set beside them (none: all). `shares`: class -> per cent. `order`: groups of
    classes with their published places, the most frequent first. `followed`: published figure or trade judgement,
    and why.
    """

    id: str
    name: str
    counted: str
    source: str
    confidence: str
    whole_machine: bool
    followed: str
    figures: tuple[float, ...] = ()
    assumed: str = ""
    by_start: bool = False
    systems: tuple[str, ...] = ()
    shares: Mapping[str, float] = field(default_factory=dict)
    order: tuple[Mapping[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Published:
    """All populations; `classes`: name -> our systems; `alike`: rates within this factor are alike."""

    populations: tuple[Population, ...]
    classes: Mapping[str, tuple[str, ...]]
    alike: float
    starts_per_1000_hours: float


def published(file: Path = FILE) -> Published:
    """What stands in the file."""
    given: dict[str, Any] = yaml.safe_load(file.read_text(encoding="utf-8"))
    return Published(
        tuple(_population(id, one) for id, one in given["populations"].items()),
        {name: tuple(systems) for name, systems in given["classes"].items()},
        given["alike"],
        given["starts_per_1000_hours"],
    )


def _population(id: str, given: dict[str, Any]) -> Population:
    level = given.get("level", {})
    return Population(
        id=id,
        **{
            name: given[name]
            for name in ("name", "counted", "source", "confidence", "whole_machine", "followed")
        },
        figures=per_1000(level),
        assumed=_assumed(level),
        by_start="per_start" in level,
        systems=tuple(given.get("systems", ())),
        shares=given.get("shares", {}),
        order=tuple(given.get("order", ())),
    )


def per_1000(level: Mapping[str, Any]) -> tuple[float, ...]:
    """Events per 1,000 running hours (of `per_start`: per 1,000 starts) of a level as it was published. Where only
    the share that failed in a time is known, at a constant rate: S(t) = exp(-rate t)."""
    match level:
        case {"miles": miles, "km_h": speed}:
            return tuple(1000 * speed / (KM_A_MILE * one) for one in miles)
        case {"mean_hours": hours}:
            return tuple(1000 / one for one in hours)
        case {"median_hours": hours}:
            return tuple(1000 * log(2) / one for one in hours)
        case {"failed": share, "within_hours": hours}:
            return (-1000 * log(1 - share) / hours,)
        case {"per_year": rates, "hours_a_year": hours}:
            return tuple(1000 * one / hours for one in rates)
        case {"per_start": rates}:
            return tuple(1000 * one for one in rates)
    return ()


def _assumed(level: Mapping[str, Any]) -> str:
    match level:
        case {"km_h": speed}:
            return f"Hours at a mean {speed} km/h. "
        case {"hours_a_year": hours}:
            return f"Hours at {hours} a year. "
    return ""
