"""Written numbers back to words, and the twins that are misheard."""

import pytest

from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import load
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.saying import as_expansion, numbers_together, teen_twins


def words(line: str) -> list[str]:
    """A line as words with its numbers whole."""
    return numbers_together(tokenise(line))


def ways(expansion: str) -> list[str]:
    """All sayings of an expansion, alternatives written out."""
    start = expansion.rfind("( ")
    if start < 0:
        return [" ".join(expansion.split())]
    end = expansion.index(" )", start)
    options = expansion[start + 2 : end].split(" | ")
    return [way for option in options for way in ways(expansion[:start] + option + expansion[end + 2 :])]


@pytest.mark.parametrize(
    "line",
    [
        "streak 90 neutral at plus 0.25",
        "meridian 105 neutral at -2.75",
        "streak 5 with",
        "sphere +1.5",
        "sphere minus 550",
        "sphere plus 1025",
        "cylinder -175 axis 172",
        "working distance 67",
        "cylinder minus 2 and a quarter axis 180",
        "sphere +3.00",
        "sphere plus 2 and 1/2",
    ],
)
def test_every_way_to_say_a_written_line_means_the_same(line: str) -> None:
    """Checked by the grammar itself, which reads the spoken words by other rules than the written ones."""
    reader = LineReader(load(), "entry", Layer.WRITTEN)
    meant = reader.understand(line).readings
    sayings = ways(as_expansion(words(line)))

    assert sayings
    for saying in sayings:
        assert not any(char.isdigit() for char in saying)
        assert reader.understand(saying).readings == meant, saying


@pytest.mark.parametrize(
    "line",
    [
        "acuity 6/9",
        "acuity unaided 6-9.5",
        "acuity 69",
        "acuity 612 -2",
        "acuity 20/40",
        "acuity 2040 +1",
        "acuity 0.8",
        "acuity logmar -0.1",
        "drops tropicamide 0.5% both",
        "drops tropicamide 1% right at 10:15",
        "vertex 12 mm",
        "refined -2.25 -1.00 x 90",
    ],
)
def test_a_written_finding_can_be_said_and_no_way_to_say_it_means_another(line: str) -> None:
    """Acuities and times are said in fewer ways than powers: "69" is "six nine", never "sixty nine"."""
    reader = LineReader(load(), "entry", Layer.WRITTEN)
    meant = reader.understand(line).readings
    understood = []
    for saying in ways(as_expansion(words(line))):
        try:
            understood.append(reader.understand(saying).readings)
        except NotAPhraseError:
            continue

    assert understood
    assert set(understood) == {meant}


@pytest.mark.parametrize(
    ("line", "twins"),
    [
        ("streak 50 with", ["streak 15 with"]),
        ("streak fifteen with", ["streak fifty with"]),
        ("axis 150", ["axis 115"]),
        ("axis one sixteen", ["axis one sixty"]),
        ("streak 90 with axis 60", ["streak 19 with axis 60", "streak 90 with axis 16"]),
        ("streak 45 at plus 1.50", []),
        ("right eye", []),
        ("axis 120", []),
        ("axis 110", []),
        ("acuity 6/15", ["acuity 6 50"]),
        ("acuity 20-30", ["acuity 20 13"]),
        ("drops tropicamide 1% both at 10:15", ["drops tropicamide 1 % both at 10 50"]),
    ],
)
def test_twins(line: str, twins: list[str]) -> None:
    assert [" ".join(twin) for twin in teen_twins(words(line))] == twins
