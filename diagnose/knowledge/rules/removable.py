"""Rules on parts that are taken out for a try."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.forms.fields import place_of
from diagnose.knowledge.away import below
from diagnose.knowledge.rules.base import KINDS, Survey, Violation, rule


@rule("K060", "how a part is taken out")
def how_it_is_out(survey: Survey) -> Iterator[Violation]:
    """A removable part says what taking it out takes: `by` names the checks in which it is done, or it has
    `minutes` (and access, hazards, steps) of its own; one of both, for what stands twice is not the same for
    long.
    """
    for id, part in survey.knowledge.removable.items():
        if bool(part.by) == bool(part.minutes):
            has = "both by and minutes" if part.by else "neither by nor minutes"
            yield Violation(part.place, f"the removable part `{id}` has {has}", "give one of them")


@rule("K061", "watched finding out of reach")
def watched_out_of_reach(survey: Survey) -> Iterator[Violation]:
    """With a part out a finding can go only if what the part carries can bring it about: each one in `watched`,
    and in `of`, is below a cause or condition in `carries`. Causes in between do not count: what a part has
    wrecked stays wrecked with it out.
    """
    for part in survey.knowledge.removable.values():
        reach = set(below(survey.knowledge, part))
        if not survey.doubtful.isdisjoint(reach | {one.id for one in part.carries}):
            continue
        looked_at = [(id, place_of(id, part.place)) for id in part.watched]
        looked_at += [(id, place_of(id, own.place)) for own in part.told for id in own.of]
        for id, place in looked_at:
            if id in survey.knowledge.findings and id not in reach:
                yield Violation(
                    place, f"nothing that `{part.id}` carries leads to `{id}`", "drop it, or carry more"
                )


@rule("K062", "own name taken")
def own_name_taken(survey: Survey) -> Iterator[Violation]:
    """The id of a test by taking away in `told` is nobody else's: old cases are read by it."""
    seen: dict[str, str] = {}
    for part in survey.knowledge.removable.values():
        for own in part.told:
            kind = survey.kinds.get(own.id)
            other = KINDS[kind] if kind else seen.get(own.id, "")
            if other:
                yield Violation(own.place, f"`{own.id}` is {other} too", "rename one of them")
            seen[own.id] = f"a test of `{part.id}`"
