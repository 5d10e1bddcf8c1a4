"""The system voice, asked for sound files by a helper process.

Run as a module this is the helper: it reads requests, one JSON object a line ({"text", "path"}), lets
`pyttsx3` write the sound to `path` and answers each with one line ({"error": null or a message}). A
process of its own, because the system voices want the main thread (macOS), print to the standard output,
and may hang; and because a file can be played, measured and stopped like any other sound.
"""

import json
import os
import sys
from typing import Any, Final, TextIO

import soundfile

_TRIES: Final = 3


def _engine() -> Any:
    import pyttsx3  # late: the error is answered, not raised

    return pyttsx3.init()


def _set_up(engine: Any, words_per_minute: int, voice: str) -> None:
    engine.setProperty("rate", words_per_minute)
    wanted = voice.casefold()
    fitting = [v.id for v in engine.getProperty("voices") if wanted in f"{v.id} {v.name}".casefold()]
    if not fitting:
        raise LookupError(f"no system voice named {voice!r}")
    if voice:
        engine.setProperty("voice", fitting[0])


def serve(requests: TextIO, answers: TextIO, words_per_minute: int, voice: str) -> None:
    """Answer requests until there are no more; the first line says whether a voice is there at all."""
    try:
        engine = _engine()
        _set_up(engine, words_per_minute, voice)
    except Exception as error:  # whatever a system's speech driver raises, the parent must be told
        _answer(answers, f"{type(error).__name__}: {error}")
        return
    _answer(answers, None)
    for line in requests:
        request = json.loads(line)
        try:
            is_spoken = any(_speak(engine, request["text"], request["path"]) for _ in range(_TRIES))
            _answer(answers, None if is_spoken else "nothing was spoken")
        except Exception as error:
            _answer(answers, f"{type(error).__name__}: {error}")


def _speak(engine: Any, text: str, path: str) -> bool:
    """Whether there is sound in the file that was written."""
    engine.save_to_file(text, path)
    engine.runAndWait()
    _wait_for_espeak()
    return bool(soundfile.info(path).frames)


def _wait_for_espeak() -> None:
    """Wait until all sound has been written: with eSpeak `runAndWait` may return long before.

    eSpeak speaks in a thread of its own. A request that begins before that thread is done with the last one
    gets an empty file, or the end of the other text. On a busy machine the end of the other text may be told later
    still, and the file is empty nevertheless: then it is asked for again.
    """
    espeak = sys.modules.get("pyttsx3.drivers._espeak")  # loaded only where it is the driver in use
    if espeak is not None:
        espeak.Synchronize()


def _answer(answers: TextIO, error: str | None) -> None:
    answers.write(json.dumps({"error": error}) + "\n")
    answers.flush()


def main() -> None:
    """Serve on standard input and output, with everything that others print sent to nowhere."""
    with os.fdopen(os.dup(1), "w", encoding="utf-8") as answers, open(os.devnull, "w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
        serve(sys.stdin, answers, int(sys.argv[1]), sys.argv[2])


if __name__ == "__main__":
    main()
