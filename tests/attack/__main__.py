"""`python -m tests.attack NAME HOW_MANY [SEED]`: an attack at any scale; exit code 1 where it found something.

kills, cuts: rounds; damage: rounds of one bit, with 40 % of several bytes on top; hostile: files; fuzz: seconds.
kills-practice and damage-practice do the same to the file of exercises
"""

from __future__ import annotations

import sys
import time

from diagnose.cases.store import Store
from diagnose.practice.store import Exercises
from tests.attack import damage, fuzz, hostile, kill


def main(name: str, many: int, seed: int = 0) -> bool:
    """Attack, print what came of it; whether all held."""
    attacked, _, practice = name.partition("-")
    kind: damage.Kind = Exercises if practice else Store
    if attacked == "kills":
        told = kill.kills(many, seed, kind)
        print(told)
        return told["lost"] == 0
    if name == "cuts":
        told, without = kill.cuts(many, seed), kill.cuts(min(many, 300), seed, synced=False)
        print(told, "with the syncs taken out:", without)
        return told["lost"] == 0 and without["lost"] > 0
    if attacked == "damage":
        print(dict(damage.attack(many, seed, kind)))
        return True  # what is read wrongly raises
    if name == "hostile":
        found = hostile.attack(many, seed)
        print(*found, f"{len(found)} of {many} files did harm", sep="\n")
        return not found
    counted = fuzz.attack(many, seed)
    print(dict(counted))
    return counted["wrong"] == 0


if __name__ == "__main__":
    began = time.monotonic()
    held = main(sys.argv[1], int(sys.argv[2]), *map(int, sys.argv[3:]))
    print(f"{time.monotonic() - began:.0f} s")
    sys.exit(not held)
