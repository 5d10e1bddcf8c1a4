"""Phrases of every kind for the far view: what was said before, what is said, and the picture that it makes."""

from typing import Final

BEGUN: Final = ("working distance sixty seven", "right eye")
ONE: Final = (*BEGUN, "streak ninety neutral at plus three")
BOTH: Final = (*ONE, "streak one eighty neutral at plus one and a half")
CYLINDER: Final = (
    *BEGUN,
    "streak one eighty neutral with sphere plus two",
    "streak ninety neutral with cylinder minus one axis ninety",
)
LONGEST: Final = (
    *BEGUN,
    "streak one hundred neutral with sphere minus nine and three quarters",
    "streak ten neutral with cylinder minus nine and three quarters axis ten",
    "left eye",
    "streak one hundred neutral with sphere minus nine and three quarters",
    "streak ten neutral with cylinder minus nine and three quarters axis ten",
)

CASES: Final[tuple[tuple[tuple[str, ...], str, str], ...]] = (
    ((), "right eye", "entered"),
    ((), "working distance sixty seven", "entered"),
    ((), "streak ninety neutral at plus three", "asked"),
    (BEGUN, "streak ninety", "entered"),
    (BEGUN, "streak one twenty five with", "entered"),
    (BEGUN, "streak one twenty five with at plus one", "entered"),
    (BEGUN, "streak ninety against at minus one and a quarter", "entered"),
    (BEGUN, "streak ninety neutral at plus two and a quarter", "entered"),
    (BEGUN, "streak ninety neutral at two and a half", "asked"),
    (BEGUN, "streak ninety neutral at plus forty", "asked"),
    (BEGUN, "neutral at plus one", "asked"),
    (BEGUN, "sphere minus ten and three quarters cylinder minus four and a half axis one oh five", "entered"),
    (BEGUN, "cylinder minus one and a half axis thirty", "entered"),
    (BEGUN, "cylinder minus one", "asked"),
    (ONE, "another plus a half", "entered"),
    (ONE, "streak one eighty neutral at plus one and a half", "entered"),
    (ONE, "left eye", "entered"),
    (BOTH, "streak one eighty neutral at plus two", "entered"),
    (BOTH, "streak forty five with at plus five", "contradicts"),
    (
        (*BEGUN, "streak one eighty with at plus three"),
        "streak one eighty neutral at minus four and three quarters",
        "contradicts",
    ),
    (BOTH, "correction minus three", "entered"),
    (BOTH, "not plus one and a half plus one", "entered"),
    (BOTH, "scratch that", "entered"),
    (BOTH, "move that to the left eye", "entered"),
    (BOTH, "swap the eyes", "asked"),
    (BOTH, "what is missing", "answer"),
    (BOTH, "read it back", "answer"),
    (BOTH, "what do all the looks say", "answer"),
    (BOTH, "which lens next", "answer"),
    (BOTH, "next pass", "entered"),
    (BOTH, "stop listening", "answer"),
    (CYLINDER, "streak one eighty neutral at plus two and a quarter", "asked"),
    (LONGEST, "streak ten neutral with cylinder minus ten axis ten", "entered"),
    (LONGEST, "streak ten neutral with cylinder minus ten axis one hundred", "asked"),
    (BEGUN, "working distance fifteen", "asked"),
    (BEGUN, "working distance lens plus one and a half in", "entered"),
    (BEGUN, "mirror concave", "entered"),
    (BEGUN, "acuity unaided six nine", "entered"),
    (BEGUN, "acuity left eye corrected six nine minus two", "entered"),
    (BEGUN, "scissors reflex", "entered"),
    (BEGUN, "vertex twelve", "entered"),
    (BEGUN, "pupils distance sixty three", "entered"),
    (BEGUN, "pupils four millimetres", "entered"),
    (BEGUN, "cyclopentolate one percent both eyes", "entered"),
    (BEGUN, "tropicamide one percent both eyes at ten fifteen", "entered"),
    (BEGUN, "wet", "entered"),
    (BEGUN, "refined plus one and a quarter minus three quarters axis ninety five", "entered"),
    (BEGUN, "wears minus two and a quarter minus one and a half axis one seventy five", "entered"),
    (BEGUN, "near addition plus one and three quarters", "entered"),
    (BEGUN, "near point of convergence eight centimetres recovery eleven", "entered"),
    (BEGUN, "no relative afferent pupil defect", "entered"),
    (BEGUN, "note patient moves a great deal and looks at the light all the time", "entered"),
)
