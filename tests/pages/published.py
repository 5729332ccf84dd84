"""Published distributions of failures, with how each was consulted, and in words why the knowledge may differ."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Share:
    """One class of a published distribution with its share in 100, the systems that it speaks of, and in words why
    ours may differ (judgement)."""

    name: str
    percent: float
    systems: tuple[str, ...]
    words: str


STOPPAGES = (
    Share(
        "fuel injection equipment, fuel supply and fuel leakage",
        30.5,
        ("fuel_supply", "injection_common", "hydraulic_injection", "unit_injectors", "common_rail"),
        "One class over all of our injection files. Low, wrong and overdue oil stand in one of these files too.",
    ),
    Share(
        "water leakage",
        17.3,
        ("cooling", "fluid_mixing"),
        "Ours holds every way in which oil, fuel, coolant and gas mix, and coolant that is merely hot; the "
        "survey's class is leakage alone.",
    ),
    Share(
        "valves and seatings",
        11.9,
        ("valve_train",),
        "Large engines burned poorer fuel, which is hard on valve seats; on clean fuel seats last.",
    ),
    Share(
        "bearings, crankshafts, gearing and drives",
        11.1,
        ("crank_driveline",),
        "Bearings of large engines were opened on schedule, and one found worn counts as a stoppage; no such "
        "inspections stand behind ours.",
    ),
    Share(
        "piston assemblies",
        6.6,
        ("cylinder",),
        "In ours liners that leak, cracked heads and gaskets stand with the mixed fluids.",
    ),
    Share(
        "oil leakage and lubrication system",
        5.2,
        ("lubrication",),
        "In ours oil that leaks into another fluid stands with the mixed fluids.",
    ),
    Share(
        "turbochargers and gas leakage",
        7.6,
        ("air_turbo", "egr"),
        "Every engine of ours is charged and has a charge cooler with its hoses.",
    ),
    Share(
        "governor gear",
        3.9,
        ("module_supply", "wiring_network"),
        "What the governor did, a module does, with sensors and wiring that the survey's engines did not have; "
        "on a governed engine only the common wiring is left in ours.",
    ),
)
"""Stoppages of large stationary and marine diesels, 1960s and 1970s, usually credited to the Diesel
Engineers and Users Association; all shares from memory, unverified. Classes are joined where one system
of ours covers several."""

STOPPAGE_WORDS = """### Stoppages of stationary and marine engines

Large diesels of the 1960s and 1970s, usually credited to the working-cost reports of the Diesel Engineers
and Users Association and repeated in Collacott, Mechanical Fault Diagnosis and Condition Monitoring, 1977.
**From memory, unverified.** It has no class for electrics, exhaust gas recirculation or aftertreatment.
Left out on its side are breakages (2.5), miscellaneous (2.5) and foundations (0.9); on ours aftertreatment,
charging, starting and faults after work on the machine. Both columns add up to 100. The reasons in the last
column are judgement."""

OTHERS = """### Other figures, in words

These are no distributions over our systems, so they stand beside single numbers or the order of things.

- Marine insurance, severe damage only: turbocharger 39 in 100 of 370 main-engine claims, crankshaft 3
  (Swedish Club, Main Engine Damage Study, 2012, **read**). A claim is a dear failure, a complaint is any.
- Auxiliary engines: 55 in 100 of the casualties fall in the first tenth of the overhaul interval (Swedish
  Club, 2018, **read**), so the rate is (0.55 / 0.10) / (0.45 / 0.90) = 11 times the rest (derived). It bears
  on what recent internal work does to the odds of assembly faults.
- Generating sets: instrumentation and control is the largest group, then cooling, fuel, engine (NUREG/CR-6819
  and OECD NEA/CSNI/R(2000)20, **from memory**; the tables were not readable).
- Cooled exhaust recirculation, early designs: with glycol in the oil and no outside leak it is the cooler
  about 8 times in 10 (trade press, **second-hand**).
- Bearings: dirt about 45 in 100, wrong assembly 13, misalignment 13, too little oil 11, overload 8, corrosion
  4 (the classic split, **from memory**); 40 by foreign particles (trade press, 2011, **second-hand**).
- Turbochargers: up to 90 in 100 fail for a reason outside them (trade text, **second-hand**): oil, dirt and
  heat are therefore causes of their own that lead to it."""
