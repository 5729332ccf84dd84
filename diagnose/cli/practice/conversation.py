"""The screens of one exercise: what is known, what is chosen, what it shows; every answer kept at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from rich.console import RenderableType
from rich.text import Text

from diagnose.cli.bay.talk import Leave, Talk
from diagnose.cli.desk import Desk
from diagnose.cli.practice.answers import figures, ids_meant, rising_and_falling
from diagnose.cli.practice.safety import asked_danger, stop
from diagnose.cli.show import show
from diagnose.errors import DiagnoseError
from diagnose.knowledge.records import Repair
from diagnose.planning.options import CheckOption, all_hazards
from diagnose.practice.bench import Bench, Seen
from diagnose.practice.judging import MISTAKES
from diagnose.practice.store import Entry, Exercises, practice_path
from diagnose.practice.telling import debrief_screen
from diagnose.practice.thinking import guess, hint, supposed, think
from diagnose.report.text import QUIET, STRONG, WARN, item, line, numbered
from diagnose.report.words import CAUTION, minutes

KEYS = "words: a check; c checks, p probabilities, f repair, h hint, ? more"
HELP = """Say what you want to check or ask, in words:
  measure the batteries, white smoke, oil level
or one letter:
  c  checks, by system
  n  what is known so far
  p  your own probabilities
  h  a hint: a question first, then a pointer, then the answer
  f  repair, put together and try again
  r  run the machine on
  o  hand over to a specialist (ends the exercise)
  x  give up and see the debrief
  q  quit; everything is kept, practice resume goes on"""


@dataclass
class Exercising:
    """One exercise on the bench."""

    desk: Desk
    talk: Talk
    bench: Bench

    def keep(self, entry: Entry) -> None:
        """Keep an entry at once."""
        with Exercises(practice_path(self.desk.store_path)) as kept:
            kept.append(self.bench.number, entry)
        self.bench = self.bench.more(entry)


def hold(desk: Desk, talk: Talk, number: int) -> None:
    """The whole conversation, until it ends or the person leaves."""
    with Exercises(practice_path(desk.store_path)) as kept:
        one = Exercising(desk, talk, Bench(desk.knowledge, desk.shop, kept.entries(number), number))
    try:
        talk.say(Text(f"Exercise {number}", STRONG), CAUTION)
        _known(one)
        while not one.bench.ended:
            _stand(one)
            try:
                _turn(one, talk.typed_ahead() or talk.ask("What do you do?"))
            except DiagnoseError as error:
                talk.say(line(str(error), style="bold"))
        _end(one)
    except Leave:
        show(Text(f"Everything is kept. diagnose practice resume {number} goes on from here."))


def _stand(one: Exercising) -> None:
    bench = one.bench
    bill = f"{minutes(bench.minutes)} of work, {bench.shop.money(bench.money)} so far"
    one.talk.say(Text("-" * 40, QUIET), line(bill), line(KEYS, style=QUIET))


def _known(one: Exercising) -> None:
    case, knowledge = one.bench.case, one.bench.knowledge
    machine, family = case.machine, knowledge.families.get(case.machine.family)
    hours = f"{machine.hours:g} h" if machine.hours is not None else ""
    parts = [machine.number, family.name if family else "", hours]
    one.talk.say(Text(" / ".join(part for part in parts if part), STRONG))
    if case.complaint:
        one.talk.say(line(f"Came in for: {case.complaint}", style=QUIET))
    for epoch in case.epochs:
        for id in epoch.repairs:
            one.talk.say(item("done:", knowledge.repairs[id].name if id in knowledge.repairs else id))
        for seen in epoch.observations:
            if seen.finding in knowledge.findings:
                value = "" if seen.value is None else f" ({seen.value:g} {seen.unit})"
                code = f" [{seen.code}]" if seen.code else ""
                text = f" - {seen.text}" if seen.text and seen.text != seen.code else ""
                words = knowledge.findings[seen.finding].in_words(seen.state)
                one.talk.say(item("-", f"{words}{value}{code}{text}"))
    for other in case.codes_not_used:
        one.talk.say(item("-", f"code {other} (says nothing here)"))


def _turn(one: Exercising, answer: str) -> None:
    if action := _ACTIONS.get(answer.lower()):
        action(one)
    elif answer:
        _in_words(one, answer)


def _in_words(one: Exercising, answer: str) -> None:
    """A check, or a finding: the ways to see it."""
    standing, talk = one.bench.standing, one.talk
    found = ids_meant(one.bench.knowledge, answer, ("checks", "findings"))
    options = [o for o in standing.checks if o.id in found or set(found) & set(o.findings)]
    if not options:
        talk.say("Nothing like that is left to check here. c lists the checks by system.")
        return
    _check(one, _one_of(talk, "Which one?", options))


def _one_of(talk: Talk, question: str, options: list[CheckOption]) -> CheckOption | None:
    if len(options) == 1:
        talk.say(line(options[0].name, style=STRONG))
        return options[0]
    chosen = talk.choose(question, [o.name for o in options])
    return None if chosen is None else options[chosen]


def _checks(one: Exercising) -> None:
    """The checks of one system, in alphabetical order."""
    knowledge, by_system = one.bench.knowledge, dict[str, list[CheckOption]]()
    for option in one.bench.standing.checks:
        system = option.check.system if option.check else knowledge.findings[option.findings[0]].system
        by_system.setdefault(system, []).append(option)
    systems = sorted(by_system, key=lambda id: _system(one, id))
    chosen = one.talk.choose("Which system?", [_system(one, id) for id in systems])
    if chosen is not None:
        options = sorted(by_system[systems[chosen]], key=lambda option: option.name)
        _check(one, _one_of(one.talk, "Which check?", options))


def _system(one: Exercising, id: str) -> str:
    known = one.bench.knowledge.systems.get(id)
    return known.name if known else id


def _check(one: Exercising, option: CheckOption | None) -> None:
    """Safety first, then think, then look."""
    if option is None:
        return
    bench, talk = one.bench, one.talk
    if hazard := bench.standing.held(option.hazards, option.id):
        stop(talk, one.keep, bench.stopped(hazard, option.name), hazard)
        return
    if not asked_danger(talk, one.keep, bench, option.name, option.hazards):
        return
    price = bench.standing.check_price(option)
    talk.say(line(f"Takes {minutes(price.minutes)}, {bench.shop.money(price.money)}.", style=QUIET))
    _think(one, option)
    seen = one.bench.do_check(option)
    one.keep(seen.entry)
    _showed(one, seen)


def _think(one: Exercising, option: CheckOption) -> None:
    bench, talk = one.bench, one.talk
    finding, state = supposed(bench, option)
    _suspects(one)
    talk.say(line(f"Suppose it shows: {finding.in_words(state)}.", style=STRONG))
    while answer := talk.ask("Which rise, which fall? as +1 -3 (Enter skips):"):
        try:
            up, down = rising_and_falling(answer, bench.suspects)
        except DiagnoseError as error:
            talk.say(str(error))
            continue
        entry, words = think(bench, option, up, down)
        one.keep(entry)
        talk.say(words)
        return


def _suspects(one: Exercising) -> None:
    one.talk.say(numbered(one.bench.knowledge.causes[id].name for id in one.bench.suspects))


def _showed(one: Exercising, seen: Seen) -> None:
    knowledge = one.bench.knowledge
    if not seen.noted:
        one.talk.say("No code stored that tells anything.")
    normal = [n for n in seen.noted if n.state == knowledge.findings[n.finding].states[0]]
    for noted in (n for n in seen.noted if n not in normal):
        one.talk.say(
            item("FOUND", _words(one, noted.finding, noted.state, noted.value, noted.unit), mark_style=WARN)
        )
    for noted in normal:
        one.talk.say(item("normal", _words(one, noted.finding, noted.state, noted.value, noted.unit)))


def _words(one: Exercising, id: str, state: str, value: float | None, unit: str) -> str:
    words = one.bench.knowledge.findings[id].in_words(state)
    return words if value is None else f"{words} ({value:g} {unit})"


def _probabilities(one: Exercising) -> None:
    talk, bench = one.talk, one.bench
    talk.say("How likely is each now, in per cent? What you leave out counts as 1 %.")
    _suspects(one)
    answer = talk.ask("As 1 60, 3 20 (or a cause in words and a number):")
    if not answer:
        return
    entry, graded = guess(bench, figures(bench.knowledge, answer, bench.suspects))
    one.keep(entry)
    talk.say(line(f"{graded.points:.0f} of 100 points.", style=STRONG))
    talk.say(line(MISTAKES.get(graded.mistake, "Well judged." if graded.points >= 90 else "Not close yet.")))


def _hint(one: Exercising) -> None:
    entry, words = hint(one.bench)
    one.keep(entry)
    one.talk.say(line(words, style=STRONG))


def _repair(one: Exercising) -> None:
    bench, talk = one.bench, one.talk
    answer = talk.ask("Which repair, in words (several with commas; Enter: none)?")
    done = [r for r in (_one_repair(one, words) for words in answer.split(",") if words.strip()) if r]
    if not done:
        return
    if hazard := bench.standing.held_repair(done):
        stop(talk, one.keep, bench.stopped(hazard, done[0].name), hazard)
        return
    price = bench.standing.repair_price(done)
    names = " + ".join(r.name for r in done)
    if (
        talk.ask(f"{names}: {minutes(price.minutes)}, {bench.shop.money(price.money)}. Do it (y)?").lower()
        != "y"
    ):
        return
    hazards = [id for r in done for id in all_hazards(bench.knowledge, r.hazards, r.access)]
    if asked_danger(talk, one.keep, bench, names, hazards):
        seen = one.bench.do_repair(done)
        one.keep(seen.entry)
        talk.say("Put together and tried:")
        _showed(one, seen)


def _one_repair(one: Exercising, words: str) -> Repair | None:
    knowledge = one.bench.knowledge
    found = [id for id in ids_meant(knowledge, words.strip(), ("repairs",)) if id in knowledge.repairs]
    if len(found) == 1:
        return knowledge.repairs[found[0]]
    chosen = one.talk.choose(
        f"Which repair is “{words.strip()}”?", [knowledge.repairs[i].name for i in found]
    )
    return None if chosen is None else knowledge.repairs[found[chosen]]


def _run_on(one: Exercising) -> None:
    """Running on with a stop hazard or a costly consequence in sight is stopped."""
    bench, talk = one.bench, one.talk
    if bench.standing.hazards:
        hazard = bench.standing.hazards[0]
        stop(talk, one.keep, bench.stopped(hazard, "Run the machine on"), hazard)
    elif bench.standing.running:
        worst = bench.standing.running[0]
        caution = f"{worst.advice}: {worst.cause.name} may be there, and {worst.what}."
        one.keep(Entry("stopped", {"hazard": "", "name": "Run the machine on", "caution": caution}))
        talk.say(item("STOPPED", caution, mark_style=WARN))
    else:
        talk.say("Nothing forbids it by what is known; it tells nothing new either.")


def _hand_over(one: Exercising) -> None:
    if one.talk.ask("Hand over, and end the exercise (y)?").lower() == "y":
        one.keep(one.bench.hand_over().entry)


def _give_up(one: Exercising) -> None:
    if one.talk.ask("Give up, and see the debrief (y)?").lower() == "y":
        one.keep(Entry("given_up", {}))


def _help(one: Exercising) -> None:
    one.talk.say(HELP)
    one.talk.pause()


def _end(one: Exercising) -> None:
    from diagnose.practice.debrief import Debrief

    words = {"repaired": "The complaint is gone.", "handed over": "The specialist found it."}
    one.talk.say(line(words.get(one.bench.ended, "Given up."), style=STRONG), "Working out the best path ...")
    screen: RenderableType = debrief_screen(Debrief(one.bench))
    one.talk.say(screen)


_BY_KEY: Mapping[tuple[str, str], Callable[[Exercising], None]] = {
    ("c", "checks"): _checks,
    ("n", "known"): _known,
    ("p", "probabilities"): _probabilities,
    ("h", "hint"): _hint,
    ("f", "repair"): _repair,
    ("r", "run"): _run_on,
    ("o", "hand over"): _hand_over,
    ("x", "give up"): _give_up,
    ("?", "help"): _help,
}
_ACTIONS = {key: action for keys, action in _BY_KEY.items() for key in keys}
