"""What was said in any number of words -> events of a case, and questions on what is not clear. Pure.

A text that names one thing (an id, a name, a code, a state, a test by taking away) goes straight to
`intake.note`; everything else is understood part by part (`understanding`). What is clear becomes events; what is
doubtful a question with at most three choices; what says nothing here is kept word for word. Nothing is recorded
against what was said.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce

from diagnose.cases.case import Case, advance
from diagnose.cases.events import CONFIDENCES, Confidence, Learnt
from diagnose.errors import CallError
from diagnose.intake.done import checked, learnt
from diagnose.intake.note import in_state, located, note, which_state
from diagnose.intake.outcome import Choice, Intake, several, together, unknown
from diagnose.intake.places import AT, told_at
from diagnose.intake.readings import measured
from diagnose.knowledge.away_words import said
from diagnose.knowledge.located import place_of, with_place
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Knowledge
from diagnose.understanding import TextPart, Understanding, understand
from diagnose.understanding import parts as kinds
from diagnose.understanding.place import places_in, places_of

MOST, NOTHING = 3, Intake()  # choices of a question: as many as are read at a glance
FEW = 4  # words of a fragment, of which the likest names are shown though nothing in it was understood
READ_CODES = "read_codes"
"""The check that asks for the codes."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a stretch of text may mean: at most three choices. One choice: yes or no. `meanwhile`: what is kept
    where nobody answers."""

    text: str
    question: str
    choices: tuple[Choice, ...]
    meanwhile: Intake = NOTHING


@dataclass(frozen=True, slots=True)
class Heard:
    """What a text came to: what is clear, what must be asked, and what was not understood."""

    intake: Intake
    questions: tuple[Question, ...] = ()
    not_understood: tuple[str, ...] = ()


def hear(
    knowledge: Knowledge,
    case: Case,
    text: str,
    *,
    absent: bool = False,
    confidence: Confidence = "sure",
    state: str = "",
    remark: bool = True,
) -> Heard:
    """Everything that a text says; with `remark` the words themselves are kept where they say more than became of
    them. Raises CallError where nothing of it comes near anything."""
    bare, places = _without_place(knowledge, text)
    exact = _named(knowledge, bare)
    if state or exact or " = " in bare or said(knowledge, text) is not None:
        told = exact or (bare if places else text)
        found = note(
            knowledge, case, told, absent, confidence, state=state, as_written=text.strip(), places=places
        )
        return _single(text, found)
    understood = understand(knowledge, text)
    if all(part.kind in (kinds.CIRCUMSTANCE, kinds.PLACE) for part in understood.parts):
        found = note(knowledge, case, text, absent, confidence)
        if found.choices and len(text.split()) > FEW:
            raise unknown(text)
        return _single(text, found)
    return _Ear(knowledge, case, absent, confidence).heard(understood, remark)


def _without_place(knowledge: Knowledge, text: str) -> tuple[str, tuple[str, ...]]:
    """The text without the place at its end, and that, where what is left names one thing; else the text."""
    found = [one for one in places_in(text) if not text[one.end :].strip(" .") and place_of(one.id)]
    if not found or _named(knowledge, text):
        return text, ()
    start = min(one.start for one in found)
    bare = re.sub(r"[\s,:]+(?:at|on|in|of|for)?\s*$", "", text[:start])
    last = found[0]
    names = tuple(place_of(one) for one in (last.id, *last.also))
    return (bare, names) if _named(knowledge, bare.partition(" = ")[0]) else (text, ())


def _named(knowledge: Knowledge, text: str) -> str:
    """The id of the one finding that goes by this very text; empty where none or several do."""
    plain = " ".join(text.lower().split())
    if plain in knowledge.findings:
        return plain
    ids = {
        finding.id
        for finding in knowledge.findings.values()
        if plain == finding.name.lower() or any(plain == alias.lower() for alias in finding.aliases)
    }
    return ids.pop() if len(ids) == 1 else ""


def _single(text: str, found: Intake) -> Heard:
    if not found.choices:
        return Heard(found)
    kept = replace(found, question="", choices=())
    return Heard(Intake(), (Question(text, found.question, found.choices, kept),))


class _Ear:
    """The parts of one text, made events one after another."""

    def __init__(self, knowledge: Knowledge, case: Case, absent: bool, confidence: Confidence):
        self.knowledge = knowledge
        self.case = case
        self.absent = absent
        self.confidence = confidence
        self.questions: list[Question] = []
        self.unknown: list[str] = []
        self.words: list[str] = []
        self.text, self.places = "", list[TextPart]()

    def heard(self, found: Understanding, remark: bool) -> Heard:
        """All that was said."""
        self.unknown += found.not_understood
        self.text, self.places = found.text, [one for one in found.parts if one.kind == kinds.PLACE]
        clashing = _clashing(found.parts)
        intakes = []
        for part in found.parts:
            if part in clashing:
                self._ask_state(part)
                continue
            for intake in self._part(part):
                intake = self._placed(part, intake)
                self.case = reduce(advance, intake.events, self.case)
                intakes.append(intake)
        if remark and (self.words or self.unknown):
            intakes.append(self._remark(found.text))
        return Heard(together(intakes), tuple(self.questions), tuple(self.unknown))

    def _placed(self, part: TextPart, intake: Intake) -> Intake:
        """What was said of a finding, at the cylinder or bank that was named with it."""
        return located(self.knowledge, self.case, intake, self._places(part, part.id))

    def _places(self, part: TextPart, id: str) -> tuple[str, ...]:
        """Where the part was, if the finding can be told so."""
        named = places_of(self.text, part, self.places)
        return tuple(place for place in named if told_at(self.knowledge, id, place))

    def _remark(self, text: str) -> Intake:
        """The words themselves, where they say more than became of them."""
        event = Learnt(text=f"said: {text.strip()}", knowledge=self.knowledge.version)
        told = f"Kept as words: {'; '.join(self.words)}" if self.words else "Kept as words"
        return Intake((event,), (told,))

    def _part(self, part: TextPart) -> Iterator[Intake]:
        if part.kind == kinds.FINDING:
            yield from self._finding(part)
        elif part.kind == kinds.READING:
            yield from self._reading(part)
        elif part.kind == kinds.CODE:
            yield from self._code(part)
        elif part.kind == kinds.NO_CODES and READ_CODES in self.knowledge.checks:
            yield checked(self.knowledge, self.case, READ_CODES, part.text)
        elif part.kind == kinds.HOURS:
            event = Learnt(hours=part.value, text=part.text, knowledge=self.knowledge.version)
            yield Intake((event,), (f"Machine: {part.value:g} h",))
        elif part.kind == kinds.FACT and self.case.machine.facts.get(part.id, part.state) == part.state:
            yield learnt(self.knowledge, {part.id: part.state}, part.text)
        elif part.kind not in (kinds.CIRCUMSTANCE, kinds.PLACE):
            self.words.append(part.text)

    def _finding(self, part: TextPart) -> Iterator[Intake]:
        if not part.sure:
            yield from self._doubtful(part)
            return
        for id in (part.id, *part.also):
            finding = observable(self.knowledge, id)
            sure = self._confidence(part)
            if part.state in finding.states and part.state not in ("present", "absent"):
                yield in_state(self.knowledge, finding, part.state, sure, part.text)
                continue
            if part.state == finding.states[-1] or len(finding.states) == 2 or self._absent(part):
                state = finding.normal if self._absent(part) else finding.states[1]
                yield in_state(self.knowledge, finding, state, sure, part.text)
            else:
                asked = which_state(finding)
                self.questions.append(Question(part.text, asked.question, asked.choices[:MOST]))

    def _absent(self, part: TextPart) -> bool:
        return (part.state == "absent") != self.absent if self.absent else part.state == "absent"

    def _confidence(self, part: TextPart) -> Confidence:
        """As sure as the speaker, unless the call says how sure it is."""
        if self.confidence != "sure":
            return self.confidence
        return next((known for known in CONFIDENCES if known == part.confidence), "sure")

    def _doubtful(self, part: TextPart) -> Iterator[Intake]:
        choices = tuple(
            self._choice(
                one.id, one.state, one.state != "absent" and not self.absent, self._places(part, one.id)
            )
            for one in part.alternatives[:MOST]
        )
        stops = len(choices) == 1 and not self.absent and _stops(self.knowledge, part.alternatives[0].id)
        meanwhile = Intake()
        if stops and part.alternatives[0].state != "absent":
            finding = observable(self.knowledge, part.alternatives[0].id)
            meanwhile = in_state(self.knowledge, finding, finding.states[-1], "unsure", part.text)
            meanwhile = replace(meanwhile, words=(f"Suspected until denied: {meanwhile.words[0]}",))
        asked = f"“{part.text}”: is it this?" if len(choices) == 1 else several(part.text)
        self.questions.append(Question(part.text, asked, choices, meanwhile))
        yield from ()

    def _choice(self, id: str, state: str, there: bool, places: Sequence[str]) -> Choice:
        finding, place = observable(self.knowledge, id), places[0] if len(places) == 1 else ""
        behind = f"{AT}{place}" if place else ""
        if there and len(finding.states) > 2:
            return Choice(f"{id}{behind}", with_place(finding.name, place))
        if state not in finding.states or state in ("present", "absent"):
            state = finding.states[1] if there else finding.normal
        return Choice(f"{id} = {state}{behind}", with_place(finding.in_words(state), place))

    def _ask_state(self, part: TextPart) -> None:
        """A finding said to be there and not to be there."""
        finding = observable(self.knowledge, part.id)
        if not any(question.choices[0].text.startswith(f"{part.id} = ") for question in self.questions):
            asked = which_state(finding)
            self.questions.append(Question(part.text, asked.question, asked.choices[:MOST]))

    def _reading(self, part: TextPart) -> Iterator[Intake]:
        if part.sure and part.id and part.value is not None:
            value = abs(part.value) if "vacuum" in part.id else part.value
            try:
                found = measured(self.knowledge, self.case, part.id, f"{value:g} {part.unit}")
            except CallError as error:
                self.unknown.append(f"{part.text} ({error})")
                return
            if found.choices:
                kept = replace(found, question="", choices=())
                self.questions.append(Question(part.text, found.question, found.choices[:MOST], kept))
            else:
                yield found
        elif part.value is not None and all(one.unit or part.unit for one in part.alternatives or [part]):
            values = (f"{one.id} {part.value:g} {one.unit or part.unit}" for one in part.alternatives[:MOST])
            choices = tuple(Choice(value, value) for value in values)
            self.questions.append(Question(part.text, f"“{part.text}”: which reading is it?", choices))
        else:
            without = "" if part.unit else " (say the unit and what it is of)"
            self.unknown.append(f"{part.text}{without}")

    def _code(self, part: TextPart) -> Iterator[Intake]:
        if part.alternatives:
            choices = tuple(Choice(one.id, one.id) for one in part.alternatives)
            self.questions.append(Question(part.text, f"“{part.text}”: which code is it?", choices))
            return
        try:
            yield note(self.knowledge, self.case, part.id, as_written=part.text)
        except CallError as error:
            self.unknown.append(f"{part.text} ({error})")


def _clashing(found: Iterable[TextPart]) -> list[TextPart]:
    """Findings said both to be there and not to be there."""
    states: dict[str, set[str]] = {}
    listed = [part for part in found if part.kind == kinds.FINDING and part.sure]
    for part in listed:
        states.setdefault(part.id, set()).add(part.state)
    return [part for part in listed if len(states[part.id]) > 1]


def _stops(knowledge: Knowledge, id: str) -> bool:
    """Whether the finding makes a hazard likely that is ruled out before anything else."""
    return any(hazard.stop and id in hazard.suspect for hazard in knowledge.hazards.values())


def questions_data(heard_questions: Iterable[Question]) -> list[Mapping[str, object]]:
    """Open questions as plain data."""
    return [
        {
            "text": one.text,
            "question": one.question,
            "choices": [{"note": choice.text, "label": choice.label} for choice in one.choices],
        }
        for one in heard_questions
    ]
