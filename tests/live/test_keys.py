"""Orders by key and pedal: what terminals send for a key, what it says, and what becomes of all other keys."""

import curses
import os
import threading
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from tests.english import load
from tests.live.scripted import ScriptedSource, block
from voicelog.errors import MissingPartError
from voicelog.exam.events import Line
from voicelog.exam.orders import LIVE
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.sources import Block
from voicelog.live import sounding
from voicelog.live.exam import LiveExam, LiveOptions
from voicelog.live.feedback import ReadBack
from voicelog.live.key_names import OTHER, KeyNames
from voicelog.live.keys import LineBuffer
from voicelog.phrases.lines import TYPED, reader_of
from voicelog.screen.by_hand import ORDERS, InForce, phrase_of
from voicelog.session import Session
from voicelog.speaking.voice import SpokenText


def names(*pieces: str) -> list[str]:
    reader = KeyNames()
    return [name for piece in pieces for name in reader(piece)] + list(reader.rest())


@pytest.mark.parametrize("terminal", ["xterm-256color", "screen", "tmux-256color", "linux", "vt220"])
def test_the_keys_are_those_of_the_terminal_descriptions(terminal: str) -> None:
    """kf13 to kf24 are the keys with Shift; of a key that a terminal does not send nothing can be said."""
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        try:
            curses.setupterm(terminal, nowhere.fileno())
        except curses.error:
            pytest.skip(f"no description of {terminal} on this machine")
    checked = 0
    for key in ("F2", "F4", "F8", "F9"):
        sent = curses.tigetstr(f"k{key.lower()}")
        shifted = curses.tigetstr(f"kf{int(key[1:]) + 12}")
        if sent:
            assert names(sent.decode()) == [key]
            checked += 1
        if shifted:
            assert names(shifted.decode()) == [f"Shift+{key}"]
            checked += 1
    assert checked


def test_a_key_is_one_key_however_it_comes() -> None:
    assert names("\x1b", "[", "1", ";2", "Q") == ["Shift+F2"]
    assert names("a\x1bOQü\x1b[20~") == ["a", "F2", "ü", "F9"]
    assert names("\x1b[A\x1b[1;5C\x1b[6~") == [OTHER, OTHER, OTHER]
    assert names("\x1b") == ["\x1b"]
    assert names("\x1bx") == ["\x1b", "x"]
    lines: list[str] = []
    buffer = LineBuffer(lines.append)
    for key in names("left\x1b[A\x1b[19~ eye\n"):
        buffer(key)
    assert lines == ["left eye"]


@pytest.mark.parametrize("phrase", [text for each in ORDERS for text in (each.phrase, each.back) if text])
def test_what_a_key_says_is_an_order_in_the_words_that_are_said(phrase: str) -> None:
    ((meaning,),) = reader_of(load(), "line", *TYPED).understand(phrase).readings
    assert meaning.kind in LIVE | {"pause", "resume"}


def test_the_document_has_every_key_with_its_phrases() -> None:
    document = (Path(__file__).parents[2] / "docs" / "round.md").read_text(encoding="utf-8")
    for each in ORDERS:
        phrases = " · ".join(filter(None, (each.phrase, each.back)))
        assert f"| {phrases} | `{each.key}` |" in document


def test_a_key_takes_back_what_is_in_force() -> None:
    everything = InForce(everything=True, paused=True, silent=True)

    assert [phrase_of(key, InForce()) for key in ("F4", "F9", "Shift+F9", "F2", "F3")] == [
        *("show everything", "stop listening", "read back off", "next patient", ""),
    ]
    assert [phrase_of(key, everything) for key in ("F4", "F9", "Shift+F9", "F2")] == [
        *("show less", "start listening", "read back on", "next patient"),
    ]


class Nothing:
    """Hears nothing, plays nothing."""

    name = "nothing"

    def hear(self, samples: Samples, rule: str) -> Hearing:
        return Hearing("nothing", (), "", None, 0.0)

    def close(self) -> None:
        """There is nothing to give back."""


class Noted(Nothing):
    """A voice that notes what it is to say."""

    def __init__(self) -> None:
        self.spoken: list[str] = []
        self.heard = threading.Event()

    def speak(self, text: str) -> SpokenText:
        self.spoken.append(text)
        if text == "right eye":
            self.heard.set()
        return SpokenText(np.zeros(16, np.float32), 16000)


class Silence(ScriptedSource):
    """Goes on until it is closed."""

    def __init__(self) -> None:
        super().__init__(())

    def blocks(self) -> Iterator[Block]:
        for index in count():
            if self.closed.wait(0.01):
                return
            yield block(index)


@pytest.fixture(name="pressed")
def _pressed() -> Iterator[Callable[..., LiveExam]]:
    """A live exam in which keys were pressed, each after what came of the one before."""
    exams: list[tuple[LiveExam, Silence]] = []

    def pressed(*keys: str, push_to_talk: bool = False, read_back: ReadBack = "changes") -> LiveExam:
        source = Silence()
        with open(os.devnull, "w", encoding="utf-8") as nowhere:
            exam = LiveExam(
                Session(),
                Nothing(),
                LiveOptions(push_to_talk=push_to_talk, read_back=read_back, tones=False),
                Console(file=nowhere),
                source=source,
                plays=lambda *_: Nothing(),
            )
        exams.append((exam, source))
        exam._listening.start()
        for key in keys:
            exam._key(key)
            settle(exam)
        return exam

    yield pressed
    for exam, source in exams:
        source.close()
        assert exam._listening.wait(30)
        exam._close()


Pressed = Callable[..., LiveExam]


def settle(exam: LiveExam) -> None:
    """Until all that was typed is entered."""
    give_up_s = time.monotonic() + 30
    while exam._listening.busy and time.monotonic() < give_up_s:
        time.sleep(0.002)


def texts(exam: LiveExam) -> list[str]:
    return [event.text for event in exam._session.state.events if isinstance(event, Line)]


def test_keys_are_entered_as_the_lines_that_are_said(pressed: Pressed) -> None:
    exam = pressed("F4", "F4", "F8", "F9", "F9", "Shift+F9", "Shift+F9", "Shift+F4")

    assert texts(exam) == [
        *("show everything", "show less", "louder", "stop listening", "start listening"),
        *("read back off", "read back on", "discard this exam"),
    ]
    assert exam._session.state.question is not None
    assert exam._session.state.question.text == "discard the exam, 0 entries?"
    assert exam._speaker.volume > LiveOptions().volume
    assert exam.status().view == "far"


def test_with_push_to_talk_every_other_key_is_the_switch(pressed: Pressed) -> None:
    """A pedal may send any key; an arrow, which comes as three characters, is one press."""
    exam = pressed("F9", OTHER, push_to_talk=True)

    assert texts(exam) == ["stop listening"]
    assert exam.status().switch_open is True
    assert exam.status().typed == ""


def test_read_back_on_is_heard_though_it_was_off_from_the_start(
    pressed: Pressed, monkeypatch: pytest.MonkeyPatch
) -> None:
    voice = Noted()
    monkeypatch.setattr(sounding, "SystemVoice", lambda: voice)
    exam = pressed("Shift+F9", read_back="off")
    exam.type_line("right eye", "typed")
    settle(exam)

    assert voice.heard.wait(30)
    assert voice.spoken[-1] == "right eye"


def test_without_a_system_voice_read_back_on_says_so(
    pressed: Pressed, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> Noted:
        raise MissingPartError("espeak-ng is not installed")

    monkeypatch.setattr(sounding, "SystemVoice", missing)
    exam = pressed("Shift+F9", read_back="off")

    assert exam.status().notice == "no read-back, tones only: espeak-ng is not installed"
    assert exam.status().in_force.silent


def test_what_was_not_entered_is_shown_until_something_is(pressed: Pressed) -> None:
    exam = pressed()
    exam._alarms.problem("NOT ENTERED: an utterance")
    exam.type_line("streak ninety neutral at two", "typed")  # asked which eye
    settle(exam)
    assert exam.status().notice == "NOT ENTERED: an utterance"

    exam.type_line("right eye", "typed")
    settle(exam)
    assert exam.status().notice == ""
