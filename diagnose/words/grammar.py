"""The words of the grammar: marks, conjunctions, what ends a denial, what should be there and what should not."""

from __future__ import annotations

from diagnose.words.stems import stem, words


def _stems(words: str) -> frozenset[str]:
    return frozenset(map(stem, words.split()))


HARD = frozenset(words(". ; : ! ? ( ) \n")) | {"-", "–", "—"}
"""Marks over which nothing reaches."""
TURNS = frozenset(words("but except however although though whereas yet then otherwise"))
SOFT = frozenset(words(", and plus & so because cos also with / while whilst when"))
ENDS_DENIAL = frozenset(
    words(
        """at in on from to under over when while with after before if until because since for of by during
        where as than out into through though once without and above below around between across unless
        whenever till cos that which"""
    )
)
DENIES_ANEW = frozenset(["no", "without", "neither", "nor"])
SUBJECTS = frozenset(words("its she shes he hes they theyre theres"))
VERBS = frozenset(
    words(
        """is was will wont has had does doesnt did didnt started starts start dies died runs ran just
        cranks turns still keeps only never always smokes leaks makes made quits stalls cuts loses lost
        overheats idles revs isnt wasnt cant"""
    )
)
ANSWERS = frozenset(["none", "nil", "nothing", "zero", "negative"])
PREDICATE_ONLY = frozenset(
    words(
        """strong steady full clear clean bright tight dry free solid sweet smooth firm well works working
        great works held holds holding correct intact smoothly"""
    )
)
"""Sound only behind what they speak of: the bearing is tight, but a tight bearing is another thing."""
NOT_SOUND_OF = {
    "tight": {"lash", "valve", "piston", "stem", "bearing", "turn", "engine", "crank"},
    "dry": {"bearing", "rocker", "tank", "run", "liner"},
    "full": {"dpf", "filter", "separator", "breather", "water", "soot", "ash", "on"},
    "clear": {"hose", "then"},
    "clean": {"runs"},
    "works": {"harder", "hard"},
    "working": {"hard", "harder"},
    "free": {"play"},
    "steady": {"misfire", "knock"},
    "strong": {"smell"},
}

TROUBLES = frozenset(
    words("""stuff problem problems trouble issue issues fault faults symptom symptoms it that""")
)
RISES = _stems("level pressure temperature voltage speed consumption boost compression")
FLUIDS = _stems("oil fuel coolant")
START, NOISE, LAMP, SMELL = stem("start"), stem("noise"), stem("lamp"), stem("smell")
NOISES = _stems("knock tick rattle whine squeal grind hiss click growl hum howl")
"""A knocking noise is a knock."""
CIRCUMSTANCES = _stems(
    "hot cold idle load hill unloaded wet standing bumps road key intermittent sudden gradual front rear"
)
"""When and where it shows. They are never denied by themselves."""
WANTED = _stems(
    """power start crank pressure boost fuel charge heat flow voltage signal communicate compression prime spark
    throttle response vacuum supply delivery oil coolant drive current"""
)
"""What should be there: low, weak or lost says that it lacks."""
SIGNS = _stems(
    """smoke noise knock tick rattle whine squeal grind hiss vibration leak smell code misfire hunt rough overheat
    lamp stutter bubble loss consumption hesitate stall fault click"""
)
"""What should not be there: gone says that it is not there any more, where a part that is gone has failed."""
FAULTS = _stems(
    """bad broken worn crack stuck blocked loose leak low high wrong dirty burnt corrode chafe scuff hunt rough
    misfire stall stutter knock overheat smoke collapse fade nick bent dent damage missing unplug swollen peel melt
    fall disconnect open pitted flake chip strip eaten twist kink wax gelled derate overspeed hydrolock milky
    tight wide"""
)
"""What is wrong with a thing."""
PACKED = FAULTS | _stems("block soot freeze rust ice carbon crust")
"""Plugged solid, stuck tight: behind these, a word such as "solid" makes it worse and not sound."""
QUANTITIES = _stems("temperature pressure level voltage speed consumption current resistance")
"""What is measured; a name that speaks of one is meant only where it was said."""
