"""What is perhaps meant by a typed line is asked about only where the answer would change something."""

from voicelog.session import Session


def test_a_naming_that_is_so_already_is_not_asked_about() -> None:
    """ "No, meridian" may be said to a student."""
    session = Session()
    for line in ("i name the meridian", "right eye", "vertical plus two", "no, meridian"):
        session.type_line(line)

    assert session.state.dialogue.questions == ()
    assert session.type_line("horizontal plus one").outcome == "accepted"


def test_another_naming_is_asked_about_and_then_for_the_readings_before() -> None:
    session = Session()
    for line in ("i name the streak", "right eye", "vertical plus two"):
        session.type_line(line)

    assert session.type_line("no, meridian").reply == "did you say: bare directions name the meridian?"
    assert session.type_line("yes").reply.endswith("did you name the meridian there too?")
    session.type_line("yes")
    (reading,) = session.state.eyes["right"].readings
    assert (reading.entry.meridian_deg, reading.entry.named) == (90, "meridian")
