"""The data of remarks, adjustments and limits: every entry has its source, and each bound holds where it says."""

import math
import re

import pytest
from pydantic import ValidationError

from voicelog.exam.guidance import AgeLimit, Limit, Rule, Sourced, data
from voicelog.exam.remarks import remarks

# What the exam measures, with a value that each rule on it remarks on and one that it does not.
NUMBERS = {
    "high_minus": (-6.0, -5.75),
    "high_plus": (5.25, 5.0),
    "vertex_not_noted": (4.25, 4.0),
    "large_cylinder": (2.25, 2.0),
    "poor_acuity": (0.4, math.log10(12 / 6)),
    "large_lag": (1.0, 0.75),
    "lead": (-0.25, 0.0),
    "stacked": (0.13, 0.12),
    "latent_hyperopia": (1.0, 0.75),
    "shift_to_minus": (1.0, 0.75),
    "passes_apart": (0.55, 0.54),
    "anisometropia": (1.0, 0.75),
    "anisometropia_cylinder": (1.0, 0.75),
    "unequal_acuity": (0.2, 0.1),
}
WORDS = {
    "scissors": ("scissors", "dull"),
    "changing_reflex": ("changing", "dull"),
    "dull_reflex": ("dull", "unclear"),
    "no_reflex": ("none", "white"),
    "white_reflex": ("white", "none"),
    "drops_phenylephrine_strong": ("phenylephrine 10 %", "phenylephrine 2.5 %"),
    "drops": ("tropicamide", "tetracaine"),
    "drops_numbing": ("tetracaine", "tropicamide"),
    "drops_atropine": ("atropine", "tropicamide"),
    "drops_cyclopentolate": ("cyclopentolate", "tropicamide"),
    "drops_tone": ("homatropine", "tropicamide"),
    "unequal_reflex": ("left", "both"),
    "unequal_pupils": ("unequal", "equal"),
    "afferent_defect": ("present", "none"),
}
IN_WORDS = {"age_not_noted", "at_cornea", "read_early"}
"""Whose finding is put into words where it is measured, so that there is no bound here."""


def entries() -> list[Sourced]:
    found = data()
    return [*found.limit, *found.adjustment, *found.agent, *found.age_limit, *found.remark]


@pytest.mark.parametrize("entry", entries(), ids=lambda each: each.id)
def test_every_remark_and_adjustment_has_its_source(entry: Sourced) -> None:
    """A year and a place to look it up, or the plain words that there is none."""
    if entry.standing == "none":
        assert entry.source.startswith("common practice, no source")
    else:
        named = re.search(r"\b(19|20)\d\d\b", entry.source) or re.search(
            r"International Classification of Diseases 11|American Optometric Association|as taught|widely taught"
            r"|chapter on refraction|teaching slide deck|formulary of an English hospital|the agents of this file|thin lenses apart",
            entry.source,
        )
        assert named, entry.source


def test_names_are_given_once() -> None:
    names = [each.id for each in entries()]

    assert len(names) == len(set(names))


def test_nothing_diagnoses_and_nothing_doses() -> None:
    """Names of diseases, strengths and amounts have no place in advice; "refer" and "usual practice" have."""
    given: list[Rule | AgeLimit] = [*data().remark, *data().age_limit]
    for rule in given:
        said = f"{rule.finding} {rule.text}"
        assert not re.search(r"keratoconus|cataract|amblyop|retinoblastoma|glaucoma|diagnos", said, re.I)
        assert not re.search(r"\b(mg|ml|per cent|%|twice a day|instil)", said, re.I)
        assert not re.search(r"\b(must|have to|should)\b", said), "a remark gives no orders"


def test_every_rule_is_tried_here() -> None:
    assert {rule.id for rule in data().remark} - IN_WORDS == NUMBERS.keys() | WORDS.keys()


@pytest.mark.parametrize(
    "rule", [each for each in data().remark if each.id not in IN_WORDS], ids=lambda each: each.id
)
def test_a_rule_speaks_from_its_bound_on_and_not_before(rule: Rule) -> None:
    inside, outside = (NUMBERS | WORDS)[rule.id]

    assert rule.id in [each.id for each in remarks(rule.on, {rule.measure: (inside,)})]
    assert rule.id not in [each.id for each in remarks(rule.on, {rule.measure: (outside,)})]


def test_words_of_a_remark() -> None:
    (high,) = remarks("eye", {"spherical_equivalent_d": (-8.125,)}, "left")
    (lead,) = remarks("eye", {"lag_d": (-0.25,)}, "right")
    (absent,) = remarks("eye", {"reflex": ("none", "none")}, "right")

    assert high.text.startswith(
        "left eye: spherical equivalent -8.12 D: usual practice is to have the retina"
    )
    assert lead.text.startswith("right eye: accommodation leads by 0.25 D: usual practice is to repeat")
    assert absent.text.startswith("right eye: no reflex: usual practice is to refer")
    assert remarks("both", {"lag_d": (9.0,)}) == []


@pytest.mark.parametrize(
    "change",
    [{"source": " "}, {"standing": "none"}, {"source": "common practice, no source"}, {"value": "much"}],
)
def test_an_entry_without_a_source_is_refused(change: dict[str, object]) -> None:
    good = {"id": "x_d", "value": 1.0, "meaning": "m", "source": "Book 1999", "standing": "read"}
    assert Limit.model_validate(good).id == "x_d"

    with pytest.raises(ValidationError):
        Limit.model_validate(good | change)


def test_a_remark_that_gives_orders_is_refused() -> None:
    good = data().remark[0].model_dump()
    assert Rule.model_validate(good)

    with pytest.raises(ValidationError):
        Rule.model_validate(good | {"text": "refer at once"})
