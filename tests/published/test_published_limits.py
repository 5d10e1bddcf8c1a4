"""Limits of remarks and drops against their sources: at the printed number, and one step beyond it.

The sources are named beside each; the age limits have a file of their own.
"""

import pytest

from tests.exam.typing import exam, typed
from voicelog.exam.guidance import data
from voicelog.exam.remarks import exam_remarks

HEAD = "age thirty\nvertex twelve\nright eye\n"
CELLS = [
    # Flitcroft et al., Invest Ophthalmol Vis Sci 2019;60:M20-M30: high myopia is -6.00 D and beyond.
    ("high_minus", "refined sphere -5.75", "refined sphere -6.00"),
    # American Optometric Association, Care of the Patient with Hyperopia, quick reference guide: high is above 5.00 D.
    ("high_plus", "refined sphere +5.00", "refined sphere +5.25"),
    # Park, Feinberg & Jones, chapter on refraction: the distance of the lens matters above 4 D.
    ("at_cornea", "refined sphere -4.00", "refined sphere -4.25"),
    # Borchert et al., Ophthalmology 2010;117:148: anisometropia is a difference of 1.0 D or more, in spherical equivalent
    # or in cylinder (abstract read); Dobson et al., Optom Vis Sci 2008;85:512-519: the same.
    ("anisometropia", "refined right sphere +1.00\nrefined left sphere +1.75", "refined right sphere +1.00\nrefined left sphere +2.00"),
    (
        "anisometropia_cylinder",
        "refined right plano cylinder -0.50 axis 90\nrefined left plano cylinder -1.25 axis 90",
        "refined right plano cylinder -0.50 axis 90\nrefined left plano cylinder -1.50 axis 90",
    ),
    # Dobson et al., Invest Ophthalmol Vis Sci 2008;49:4427-4436: two logMAR lines between the eyes.
    ("unequal_acuity", "acuity right refined 6/6\nacuity left refined 6/7.5", "acuity right refined 6/6\nacuity left refined 6/9.5"),
    # WHO, International Classification of Diseases 11: vision impairment is worse than 6/12.
    ("poor_acuity", "acuity right refined 6/12", "acuity right refined 6/15"),
    # Practice questions on the monocular estimate: 0.25 to 0.75 D is usual, a minus value is a lead.
    ("large_lag", "estimate +0.75", "estimate +1.00"),
    ("lead", "estimate plano", "estimate minus a quarter"),
    # Label of cyclopentolate, read in a copy: most cycloplegia within 25 to 75 minutes. A reference of drugs for
    # optometrists, after the labels: tropicamide 20 to 35, homatropine 30 to 60, atropine 60 to 120 minutes.
    *(
        (
            "read_early",
            f"drops {agent} one percent both eyes {printed} minutes ago\nworking distance 50\nstreak 90 neutral at plus two",
            f"drops {agent} one percent both eyes {printed - 1} minutes ago\nworking distance 50\nstreak 90 neutral at plus two",
        )
        for agent, printed in (("cyclopentolate", 25), ("tropicamide", 20), ("homatropine", 30), ("atropine", 60))
    ),
]  # fmt: skip


def made(lines: str) -> set[str]:
    return {each.id for each in exam_remarks(exam(HEAD + lines))}


@pytest.mark.parametrize(("name", "at", "beyond"), CELLS)
def test_the_printed_number_and_a_step_beyond(name: str, at: str, beyond: str) -> None:
    assert name not in made(at)
    assert name in made(beyond)


@pytest.mark.parametrize(
    ("agent", "strongest"),
    [
        # Label of cyclopentolate: 0.5, 1 and 2 %.
        ("cyclopentolate", 2.0),
        # A reference of drugs for optometrists, after the labels: tropicamide 0.5 and 1 %, homatropine 2 and 5 %.
        ("tropicamide", 1.0),
        ("homatropine", 5.0),
        # Formulary of an English hospital: 0.5 and 1 %.
        ("atropine", 1.0),
        # Ophthalmic Physiol Opt 1998;18:393-400 (abstract): proxymetacaine 0.5 %, oxybuprocaine 0.4 %.
        ("proxymetacaine", 0.5),
        ("oxybuprocaine", 0.4),
        # A list of anaesthetics for optometrists: amethocaine (tetracaine) 0.5 and 1 %.
        ("tetracaine", 1.0),
    ],
)
def test_the_strongest_in_use(agent: str, strongest: float) -> None:
    given = exam(f"drops {agent} {strongest:g} percent both eyes")
    _, stronger = typed(f"drops {agent} {strongest + 0.1:g} percent both eyes")

    assert given.question is None
    assert stronger.question is not None
    assert "is not in use" in stronger.question.text


def test_no_agent_and_no_remark_is_from_memory() -> None:
    found = data()

    assert [
        each.id
        for each in (*found.agent, *found.remark, *found.limit, *found.age_limit)
        if each.standing == "memory"
    ] == []
