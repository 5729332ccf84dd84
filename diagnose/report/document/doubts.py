"""What is not settled, the gravest first: for the technician in full, for the customer in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from diagnose.cases.case import Case
from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.knowledge.located import with_place
from diagnose.knowledge.records import Knowledge
from diagnose.plain import small
from diagnose.report.document.case_record import LIKELY, Closing, Doubt, Proof, Visit
from diagnose.report.document.record_words import likelihood, seen
from diagnose.report.document.replay import entries, worked_out
from diagnose.report.document.states import NOT_FOUND, NOT_PROVEN, not_noted, still_there
from diagnose.report.document.story import raised
from diagnose.report.ranking import MOST_UNUSED, SUSPICIOUS_BITS
from diagnose.report.screen_words import listed, percent
from diagnose.report.text import cause_name

STILL_POSSIBLE = 0.1  # probability from which on a cause is left open (judgement)
ELSEWHERE = 0.05
"""Probability from which on a cause that is not listed is worth a doubt."""
MOST_POSSIBLE = 5  # causes named in a sentence


@dataclass(frozen=True, slots=True)
class _Unsettled:
    """What the doubts are looked for in."""

    knowledge: Knowledge
    case: Case
    diagnosis: Diagnosis | None
    closing: Closing | None
    visits: tuple[Visit, ...]
    proof: Proof
    impossible: tuple[str, ...]


def doubts(
    knowledge: Knowledge,
    case: Case,
    diagnosis: Diagnosis | None,
    visits: tuple[Visit, ...],
    proven: Proof,
    impossible: tuple[str, ...],
) -> tuple[Doubt, ...]:
    """All that is not settled; nothing where the case was opened by mistake."""
    if case.opened is None:
        return ()
    closing = visits[-1].closing if visits else None
    known = _Unsettled(knowledge, case, diagnosis, closing, visits, proven, impossible)
    return tuple(doubt for look in _LOOKS for doubt in look(known))


def _contradiction(known: _Unsettled) -> Iterator[Doubt]:
    if known.impossible:
        names = listed(known.impossible)
        yield Doubt(
            f"These cannot all be true by this knowledge: {names}. One of them must be looked at again; until "
            "then no cause can be ranked.",
            f"Some of what was found does not fit together and must be looked at again: {names}.",
        )


def _comeback(known: _Unsettled) -> Iterator[Doubt]:
    for before, after in zip(known.visits, known.visits[1:], strict=False):
        if after.comeback and before.closing:
            found = listed(f.name for f in before.closing.found) or "no cause named"
            yield Doubt(
                f"It came back after it was closed ({found}): either that was not all, or it has failed anew.",
                "The machine came back after it had been handed over: either not all was found then, or something "
                "has failed anew.",
            )


def _not_closed(known: _Unsettled) -> Iterator[Doubt]:
    if known.closing is None:
        yield Doubt("The case is not closed: nobody has said what it really was.", "")


def _how_confirmed(known: _Unsettled) -> Iterator[Doubt]:
    if known.closing is None:
        return
    if not known.closing.found:
        yield Doubt("It was closed without a cause.", NOT_FOUND)
    assumed = [found.name for found in known.closing.found if found.confirmed == "assumed"]
    if assumed:
        yield Doubt(
            f"Assumed, not confirmed: {listed(assumed)}.",
            f"Nobody has seen it for certain; it is assumed: {small(listed(assumed))}.",
        )
    if not known.closing.proven:
        yield Doubt(NOT_PROVEN, "The repair was not proven by a test of its own.")
    for found in known.closing.found:
        if found.probability is not None and found.probability < STILL_POSSIBLE:
            yield Doubt(
                f"{found.name} was named at the closing, though what is recorded gives it "
                f"{percent(found.probability)}: something that was seen is not in the record, or it was another "
                "cause.",
                f"What was written down on the way hardly points to it ({small(found.name)}): something that was "
                "seen was not written down, or it was something else.",
            )


def _tried(known: _Unsettled) -> Iterator[Doubt]:
    complaints = listed(known.proof.complaints) or "the complaint"
    if known.proof.tried == "not tried":
        yield Doubt(
            not_noted(complaints),
            f"Whether this is gone has not been recorded since the repair: {small(complaints)}.",
        )
    if known.proof.tried == "still there":
        yield Doubt(
            still_there(complaints),
            "The complaint was still there after the repair.",
        )
    if known.proof.tried == "there again":
        yield Doubt(
            f"There again after it was gone: {complaints}.",
            "The complaint was gone after the repair and is there again.",
        )


def _not_read_again(known: _Unsettled) -> Iterator[Doubt]:
    rest = [name for name in known.proof.not_again if name not in known.proof.complaints]
    if rest:
        names = listed(rest)
        yield Doubt(f"Not normal before the repair, and not looked at since: {names}.", "")


def _no_leader(known: _Unsettled) -> Iterator[Doubt]:
    """While it is open and not mended: no cause is likely."""
    leading = _relevant(known)[:1]
    if known.closing or known.proof.tried == "gone":
        return
    if leading and leading[0].probability < LIKELY and _has_findings(known):
        yield Doubt(
            f"No cause is likely yet; the first has {percent(leading[0].probability)}.",
            "No single cause stands out yet; more must be checked.",
        )


def _still_possible(known: _Unsettled) -> Iterator[Doubt]:
    """Causes that were neither found nor repaired and are not ruled out."""
    found = {one.id for one in known.closing.found} if known.closing else set()
    skip = found | {cause for epoch in known.case.epochs[1:] for cause in epoch.causes}
    if known.closing is None:  # what is told as the cause is no doubt
        skip |= {c.id for n, c in enumerate(_relevant(known)) if n == 0 or c.probability >= LIKELY}
    causes = [c for c in _relevant(known) if c.id not in skip]
    if known.proof.tried == "gone":  # only what the findings made likelier than on any machine
        causes = [c for c in causes if raised(c)]
    left = [c for c in causes if c.probability >= STILL_POSSIBLE][:MOST_POSSIBLE]
    if left and _has_findings(known):
        full = [f"{cause.name} ({percent(cause.probability)}{_by(known, cause)})" for cause in left]
        plain = [f"{small(cause.name)} ({likelihood(cause.probability)})" for cause in left]
        yield Doubt(*(f"Neither put right nor ruled out: {'; '.join(told)}." for told in (full, plain)))


def _by(known: _Unsettled, cause: RankedCause) -> str:
    return f", wrecked by {small(cause_name(known.knowledge, cause.wrecked_by))}" if cause.wrecked_by else ""


def _repaired_in_doubt(known: _Unsettled) -> Iterator[Doubt]:
    """A cause that was repaired and may still be there."""
    covered = {cause for epoch in known.case.epochs[1:] for cause in epoch.causes}
    left = [c for c in _relevant(known) if c.id in covered and c.probability >= STILL_POSSIBLE]
    if left:
        words = [f"{cause.name} ({percent(cause.probability)})" for cause in left]
        names = listed(small(cause.name) for cause in left)
        yield Doubt(
            f"Repaired, and may still be there (not cured, or failed again): {'; '.join(words)}.",
            f"Repaired, but it may not be cured: {names}.",
        )


def _elsewhere(known: _Unsettled) -> Iterator[Doubt]:
    if known.diagnosis and known.diagnosis.other_cause >= ELSEWHERE:
        p = known.diagnosis.other_cause
        yield Doubt(
            f"Something that the knowledge does not list: {percent(p)}.",
            f"It can also be something that is not among the known causes ({likelihood(p)}).",
        )


def _strange(known: _Unsettled) -> Iterator[Doubt]:
    if known.diagnosis is None or known.diagnosis.conflict.bits < SUSPICIOUS_BITS:
        return
    names = listed(name for name, _ in known.diagnosis.conflict.strange[:3])
    if names:
        yield Doubt(
            f"These do not fit well with the rest: {names}.",
            f"Some of what was found does not fit well with the rest: {small(names)}.",
        )


def _unsure(known: _Unsettled) -> Iterator[Doubt]:
    findings = known.knowledge.findings
    unsure = [
        with_place(seen(findings[one.finding], one.state), one.place)
        for one in known.case.observations
        if one.confidence != "sure" and one.finding in findings
    ]
    if unsure:
        names = listed(dict.fromkeys(unsure))
        yield Doubt(f"Seen, but not for sure: {names}.", f"Not seen for sure: {small(names)}.")


def _unused(known: _Unsettled) -> Iterator[Doubt]:
    unused = known.diagnosis.unused if known.diagnosis else ()
    for words in unused[:MOST_UNUSED]:
        yield Doubt(f"Recorded, but not used: {words}.", "")
    if len(unused) > MOST_UNUSED:
        yield Doubt(f"Recorded, but not used: {len(unused) - MOST_UNUSED} observations more.", "")


def _many_entries(known: _Unsettled) -> Iterator[Doubt]:
    told = entries(known.case)
    if len(worked_out(told)) < sum(entry.telling for entry in told):
        yield Doubt("So many entries: what each alone changed was worked out for some of them only.", "")


def _other_knowledge(known: _Unsettled) -> Iterator[Doubt]:
    version = known.knowledge.version
    if any(event.knowledge not in ("", version) for event in known.case.history):
        yield Doubt(
            "Part of it was recorded under another version of the knowledge; all figures are by the present one.",
            "",
        )


def _relevant(known: _Unsettled) -> tuple[RankedCause, ...]:
    causes: Iterable[RankedCause] = known.diagnosis.causes if known.diagnosis else ()
    return tuple(cause for cause in causes if cause.relevant)


def _has_findings(known: _Unsettled) -> bool:
    return known.diagnosis is not None and bool(known.diagnosis.evidence)


_LOOKS = (
    _contradiction,
    _comeback,
    _tried,
    _how_confirmed,
    _no_leader,
    _repaired_in_doubt,
    _still_possible,
    _elsewhere,
    _strange,
    _unsure,
    _not_read_again,
    _unused,
    _many_entries,
    _other_knowledge,
    _not_closed,
)
