"""The rules of the knowledge: what must hold, each with a stable code, a name and a page.

Rules of reading (K001-K027) are noted while a file is read; the others are functions from a survey of the
whole knowledge to what they find. To add one: a function with `@rule`, a line here, cases in tests/rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from diagnose.errors import Problem
from diagnose.knowledge.rules import (
    facts,
    graph,
    located,
    probabilities,
    reading,
    references,
    removable,
    sentences,
    stops,
    strengths,
    wording,
)
from diagnose.knowledge.rules.base import Rule, Survey

__all__ = ["LOCAL", "RULES", "WITH_OVERLAY", "Rule", "Survey", "found", "page"]

RULES: tuple[Rule, ...] = tuple(
    sorted(
        (
            *reading.RULES,
            references.unknown_basis,
            probabilities.sum_above_one,
            references.unknown_id,
            references.earlier_id_used,
            references.wrong_kind,
            references.unknown_value,
            probabilities.band_state,
            probabilities.band_out_of_reach,
            probabilities.unknown_unit,
            probabilities.alternative_out_of_place,
            facts.fact_shares,
            facts.fact_cycle,
            graph.link_cycle,
            graph.access_cycle,
            graph.check_prevented,
            graph.clearing_forbidden,
            graph.finding_without_cause,
            graph.condition_without_end,
            graph.finding_without_check,
            graph.cause_without_check,
            graph.cause_without_repair,
            graph.complaint_without_general,
            graph.kinds_in_circle,
            graph.past_not_told,
            located.per_without_count,
            located.per_without_cause,
            wording.hazard_not_named,
            wording.check_reveals_nothing,
            wording.alias_shared,
            wording.alias_is_name,
            wording.code_form,
            wording.kind_does_not_fit,
            stops.stop_not_cleared,
            sentences.torn_sentence,
            sentences.prevented_step,
            strengths.leak_above_causes,
            strengths.weak_hidden_link,
            wording.effect_as_cause,
            removable.how_it_is_out,
            removable.watched_out_of_reach,
            removable.own_name_taken,
        ),
        key=lambda rule: rule.code,
    )
)
# The rules that look at one record at a time: they hold even where whole files are missing.
LOCAL = (
    probabilities.sum_above_one,
    probabilities.band_state,
    probabilities.band_out_of_reach,
    probabilities.alternative_out_of_place,
    wording.check_reveals_nothing,
    wording.code_form,
    wording.kind_does_not_fit,
)
# The rules on how a knowledge is made as a whole, asked where no overlay lies over it: a shop's numbers and words
# are its own, and what was learnt must never make the knowledge unreadable.
OF_THE_MAKING = (
    graph.complaint_without_general,
    located.per_without_cause,
    stops.stop_not_cleared,
    sentences.torn_sentence,
    sentences.prevented_step,
    strengths.leak_above_causes,
    strengths.weak_hidden_link,
    wording.effect_as_cause,
)
WITH_OVERLAY = tuple(rule for rule in RULES if rule not in OF_THE_MAKING)


def found(survey: Survey, rules: Iterable[Rule] = RULES) -> Iterator[Problem]:
    """Everything that the rules find."""
    for rule in rules:
        for one in rule.test(survey) if rule.test else ():
            yield Problem(rule.code, one.place, one.message, one.hint)


def page() -> str:
    """The page of all rules, docs/rules.md."""
    head = (
        "# Rules of the knowledge\n\n"
        "Made from the rules themselves by `python -m tests.pages`; do not edit.\n"
        "`diagnose knowledge check` prints each problem as `file:line:column: CODE message (hint)`. A\n"
        "record with a problem never hides problems of others; what only follows from it is not reported.\n"
    )
    return head + "".join(f"\n## {rule.code} {rule.name}\n\n{rule.page}\n" for rule in RULES)
