"""The listeners that settings ask for."""

from voicelog.errors import MissingPartError
from voicelog.hearing.engines.consulting import Consulting
from voicelog.hearing.engines.letters_engine import LettersEngine
from voicelog.hearing.engines.moonshine import MoonshineEngine
from voicelog.hearing.engines.network import model_folder
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.engines.scoring import PhraseJudge
from voicelog.hearing.engines.sphinx import SphinxListener
from voicelog.hearing.engines.sphinx_alone import SphinxEngine
from voicelog.hearing.engines.two import TwoListeners
from voicelog.hearing.engines.vosk import VoskEngine
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.language import Language
from voicelog.settings import Settings


def chosen_engine(settings: Settings, grammar: Grammar) -> Engine:
    """The engine of the settings, with a second listener where the policy wants one.

    The second of `letters` is moonshine, which also stands in for it where its model was removed; the second of the
    others is sphinx. The engine `sphinx` listens alone: it cannot be its own second listener. Raises MissingPartError
    when an engine or its model is not there, or does not know the language.
    """
    _check_language(settings, grammar.language)
    if settings.engine == "sphinx":
        return SphinxEngine(grammar)
    if settings.engine == "letters":
        return _letters(settings, grammar)
    first: Engine
    first = (
        VoskEngine(grammar, settings.vosk_model) if settings.engine == "vosk" else MoonshineEngine(grammar)
    )
    if settings.policy == "single" or grammar.language.code != "en":
        return first
    cautious = settings.policy == "cautious"
    return TwoListeners(grammar, first, SphinxListener(grammar), doubting_numbers=cautious)


def _letters(settings: Settings, grammar: Grammar) -> Engine:
    try:
        first = LettersEngine(grammar)
    except MissingPartError:
        if not _has_moonshine():
            raise
        return MoonshineEngine(grammar)
    if settings.policy == "single" or not _has_moonshine():
        return first
    return Consulting(grammar, first, PhraseJudge)


def _has_moonshine() -> bool:
    try:
        model_folder()
    except MissingPartError:
        return False
    return True


def _check_language(settings: Settings, language: Language) -> None:
    """The models of letters, moonshine and sphinx hear English alone, also as a second listener.

    Where none knows the language, the policy `normal` goes without a second; `cautious` asks for one, and is refused.
    """
    if language.code == "en":
        return
    if settings.engine != "vosk":
        raise MissingPartError(
            f"the engine {settings.engine} hears English only. For the language {language.code!r} set "
            'engine = "vosk"; then add a model of it (voicelog models add)'
        )
    if settings.policy == "cautious":
        raise MissingPartError(
            f'the second listener hears English only. For the language {language.code!r} set policy = "normal"'
        )
