"""The rules that are part of reading a file: of the text, of its fields, of one record alone."""

from __future__ import annotations

from inspect import cleandoc

from diagnose.knowledge.rules.base import Rule

_PAGES = {
    "K001 file not readable": "The folder or file must be there and readable.",
    "K002 not UTF-8": "A file is text in UTF-8, without control characters. A byte order mark may lead.",
    "K003 too large": "A file has at most 5 MB and is nested at most 40 levels deep.",
    "K004 not YAML": "The text must be YAML. Until it is, this file is left out and the others are checked.",
    "K005 duplicate key": """
        A key stands once in a mapping. YAML readers keep the last of two without a word; here it is an
        error.""",
    "K006 more YAML than needed": """
        Anchors, aliases, tags and a second document are not read: whoever corrects the file must see
        everything where it stands, and aliases can blow up a small file without bound.""",
    "K007 yes and no": """
        YAML reads `yes`, `no`, `on` and `off` as true and false. Write true or false, or text in quotes.""",
    "K008 number in disguise": """
        YAML reads `010` as eight, `1:30` as ninety and `0x1F` as 31. Write a plain decimal number, or text
        in quotes.""",
    "K009 key is not text": "A key is text; a number as key, or an empty one, goes in quotes.",
    "K010 unknown field": "A mapping has only the fields of its kind; most often the key is misspelt.",
    "K011 missing field": "A field that the kind needs must be there.",
    "K012 wrong type": "A value has the type of its field: text, number, list or mapping.",
    "K013 not an id": "An id is `lower_case_with_underscores`, with a letter first.",
    "K014 out of range": """
        A probability lies in [0, 1]; odds, ess and ages are more than 0; minutes and prices are not
        negative.""",
    "K015 unknown choice": "The value must be one of the listed words.",
    "K016 empty": "Text must not be empty; leave out a field that has nothing to say.",
    "K017 twice in a list": "A word stands once in a list.",
    "K020 id defined twice": "All files and kinds share one pool of ids. A system is named once.",
    "K021 number without basis": "A bare number needs `default_basis` at the head of its file.",
    "K024 states": """
        States are at least two, each once, the sound one first; `p`, `to`, `by_state`, `basis` and `ess`
        are taken by the long form of numbers. Leave `states` out where the record is absent or present.""",
    "K025 unknown state": """
        Links and leaks name states that the record has, and never give the first, which has the rest.""",
    "K026 form of a link": """
        The form of a link or leak follows the states of parent and effect: `p` for binary to binary, `to`
        for an effect with several states, `by_state` for a parent with several states; one of them, not
        two.""",
    "K027 system missing": """
        A file with causes, conditions, findings, checks or repairs names its system.""",
    "K028 how often": """
        A cause says how often it arises of itself, in exactly one way: `rate`, `per_start`, `per_night`
        or `share`.""",
}
RULES = tuple(Rule(head[:4], head[5:], cleandoc(text)) for head, text in _PAGES.items())
