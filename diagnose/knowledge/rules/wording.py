"""Rules on names, codes and cautions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from diagnose.errors import Place
from diagnose.forms.fields import place_of
from diagnose.knowledge.records import Access, Check, Finding, Hazard, Knowledge, Repair
from diagnose.knowledge.removable import Removable
from diagnose.knowledge.rules.base import Survey, Violation, jobs, rule

# SAE J1939-73: an SPN has 19 bits, an FMI 5. SAE J2012: a letter, a digit 0-3, three hexadecimal digits.
_SPN = re.compile(r"SPN (\d{1,6}) FMI (\d{1,2})")
_KIND = re.compile(r"FMI (\d{1,2})")
_TROUBLE_CODE = re.compile(r"[PBCU][0-3][0-9A-F]{3}")
MAX_SPN, MAX_FMI = 2**19 - 1, 2**5 - 1  # 19 and 5 bits (SAE J1939-73)

Job = Access | Check | Repair | Removable


@rule("K045", "hazard not named")
def hazard_not_named(survey: Survey) -> Iterator[Violation]:
    """A check, repair, removable part or access state whose name or steps say one of a hazard's `words` names the
    hazard, or needs an access state that does: nobody reads the steps without the caution.
    """
    knowledge = survey.knowledge
    alarms = [(hazard, _alarm(hazard)) for hazard in knowledge.hazards.values() if hazard.words]
    for job in jobs(knowledge):
        named = named_hazards(knowledge, job)
        for hazard, alarm in alarms:
            if hazard.id not in named and (hit := _first(alarm, _texts(job))):
                place, words = hit
                message = f"`{job.id}` says `{words}` but does not name the hazard `{hazard.id}`"
                yield Violation(
                    place, message, f"add {hazard.id} to its hazards, or to an access state that it needs"
                )


def _texts(job: Job) -> Iterator[tuple[str, Place]]:
    if isinstance(job, Removable) and job.by:
        return iter(())  # its checks say it, and have the cautions
    steps = () if isinstance(job, Access) else job.verify if isinstance(job, Repair) else job.steps
    return ((text, place_of(text, job.place)) for text in (job.name, *steps))


def _alarm(hazard: Hazard) -> re.Pattern[str]:
    words = "|".join(re.escape(word) for word in hazard.words)
    return re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE)


def _first(alarm: re.Pattern[str], texts: Iterable[tuple[str, Place]]) -> tuple[Place, str] | None:
    return next(((place, hit.group()) for text, place in texts if (hit := alarm.search(text))), None)


def named_hazards(knowledge: Knowledge, job: Job) -> set[str]:
    """The hazards of a job, and of every access state on the way to it."""
    named, seen = set(job.hazards), set()
    stack = list(job.needs if isinstance(job, Access) else job.access)
    while stack:
        id = stack.pop()
        if id not in seen and (access := knowledge.access.get(id)):
            seen.add(id)
            named.update(access.hazards)
            stack.extend(access.needs)
    return named


@rule("K046", "check reveals nothing")
def check_reveals_nothing(survey: Survey) -> Iterator[Violation]:
    """A check reveals at least one finding, or a part is taken out in it to see whether a finding goes."""
    taking_out = {id for part in survey.knowledge.removable.values() for id in part.by}
    for id, check in survey.knowledge.checks.items():
        if not check.reveals and id not in taking_out:
            yield Violation(check.place, f"the check `{id}` reveals nothing")


@rule("K050", "alias shared")
def alias_shared(survey: Survey) -> Iterator[Violation]:
    """An alias belongs to one finding; else what the technician says means two things.
    Small and capital letters count as the same."""
    first: dict[str, Finding] = {}
    for finding, alias in _aliases(survey.knowledge):
        other = first.setdefault(_folded(alias), finding)
        if other.id != finding.id:
            yield Violation(
                place_of(alias, finding.place), f"`{alias}` is an alias of `{other.id}` too", "drop one"
            )


@rule("K051", "alias is a name")
def alias_is_name(survey: Survey) -> Iterator[Violation]:
    """An alias is not the name of another finding."""
    names = {_folded(one.name): one.id for one in survey.knowledge.findings.values()}
    for finding, alias in _aliases(survey.knowledge):
        other = names.get(_folded(alias), finding.id)
        if other != finding.id:
            yield Violation(place_of(alias, finding.place), f"`{alias}` is the name of the finding `{other}`")


def _aliases(knowledge: Knowledge) -> Iterator[tuple[Finding, str]]:
    return ((finding, alias) for finding in knowledge.findings.values() for alias in finding.aliases)


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


@rule("K052", "form of a code")
def code_form(survey: Survey) -> Iterator[Violation]:
    """A code is `SPN n FMI m` (SPN up to 524287, FMI up to 31: SAE J1939-73), or P, B, C or U with a digit
    0-3 and three hexadecimal digits in capitals (SAE J2012). Two findings may share a code. `FMI m` alone means
    the codes of any part with this kind of fault that no finding lists in full.
    """
    for finding in survey.knowledge.findings.values():
        for code in finding.codes:
            if not _is_code(code):
                place = place_of(code, finding.place)
                yield Violation(place, f"`{code}` is not a fault code", "write `SPN 164 FMI 1` or `P2291`")


def _is_code(code: str) -> bool:
    if found := _SPN.fullmatch(code):
        return int(found[1]) <= MAX_SPN and int(found[2]) <= MAX_FMI
    if found := _KIND.fullmatch(code):
        return int(found[1]) <= MAX_FMI
    return _TROUBLE_CODE.fullmatch(code) is not None


@rule("K053", "kind does not fit")
def kind_does_not_fit(survey: Survey) -> Iterator[Violation]:
    """A finding with `reading` is of the kind reading; one with `codes` is of the kind code."""
    for finding in survey.knowledge.findings.values():
        for given, field, kind in ((finding.reading, "reading", "reading"), (finding.codes, "codes", "code")):
            if given and finding.kind != kind:
                message = f"`{finding.id}` has `{field}` but is of the kind {finding.kind}"
                yield Violation(place_of(finding.kind, finding.place), message, f"write kind: {kind}")


@rule("K063", "effect as a cause")
def effect_as_cause(survey: Survey) -> Iterator[Violation]:
    """A cause is what failed, not what is noticed: its name is not the name or an alias of a symptom, a reading, a
    complaint or what a driver tells. What is noticed is a finding; a hidden state between the two is a condition.
    """
    noticed = {_folded(text): finding for finding in _noticed(survey.knowledge) for text in _said(finding)}
    for cause in survey.knowledge.causes.values():
        if finding := noticed.get(_folded(cause.name)):
            message = f"the cause `{cause.id}` has the name of what is noticed, `{finding.id}`"
            yield Violation(place_of(cause.name, cause.place), message, "name the part that failed, and how")


def _noticed(knowledge: Knowledge) -> Iterator[Finding]:
    kinds = ("symptom", "reading", "question")
    return (one for one in knowledge.findings.values() if one.kind in kinds or one.other is not None)


def _said(finding: Finding) -> tuple[str, ...]:
    return finding.name, *finding.aliases
