"""A line whose pieces stand in an order that the grammar does not know, put into the order that it knows.

"And she's gone neutral, streak up and down, with plus two and a half" is "streak vertical neutral plus two and a half".
The pieces are counted strictly: one place, one power, one motion to an entry; a number, a sign, a doubt or a denial
that belongs to no entry makes it none. What the grammar reads in the new order is what was said.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.in_order import ANSWERS, Found, RulesInOrder
from voicelog.phrases.matcher import Meanings, tokenise, written
from voicelog.phrases.piece_order import OTHER, entries_of, is_doubted, is_guessed, text_of
from voicelog.phrases.pieces import Cutter, Kind, Piece
from voicelog.phrases.plainest import powers
from voicelog.phrases.rewording import Change, Rewording
from voicelog.phrases.strength import are_signed, is_of_eyes, is_strong, is_valued
from voicelog.phrases.word_sets import WordSets

_ANSWERS_AXIS, _ANSWERS_CONFIRM = f"{ANSWERS}axis", f"{ANSWERS}confirm"
_SORRY_OR_NOT = tuple(f"{ANSWERS}{each}" for each in ("eye", "where", "sign"))
_OF_MANY_THINGS = (say.Answer, say.LoosePower, say.LooseSign, say.LooseWhere, say.Place, say.Note)
_PLAIN_ORDERS = (say.Plain, say.Swap, say.Move, say.Scratch, say.Tell)
_DENIED = (say.Acuity, say.Pupils, say.AfferentDefect, say.Drops)
"""What "no" before it may deny."""
_MOST_ASKED = 3
_BEFORE_SORRY = ([Kind.EYE, Kind.FIX], [Kind.SIGN, Kind.FIX])
"""Where "sorry" behind it puts nothing else right."""
_APPROXIMATELY = "approximately"


@dataclass(frozen=True, slots=True)
class Arranged:
    """A line in the order of the grammar, and what it says so; not `sure`: worth a question at most.

    `strong`: its values name what they are of. `unknown`: so many words of it the grammar does not know.
    """

    text: str
    found: Found
    sure: bool
    strong: bool = False
    unknown: int = 0


class Arranger:
    """Puts the pieces of lines in order."""

    def __init__(self, grammar: Grammar, rules: RulesInOrder, sets: WordSets, *layers: Layer) -> None:
        self._language = grammar.language
        self._rules = rules
        self._sets = sets
        self._cutter = Cutter(grammar, sets, *layers)
        self._rewording = Rewording(grammar, sets)

    def arranged(self, line: str) -> Arranged | None:
        """What a line says in order and words of the grammar; None where that is nothing, or not one thing."""
        tokens = tokenise(line, self._language)
        found = self._in_order(tokens)
        if found is not None and found.sure:
            return found
        reworded = self._in_other_words(tokens)
        if reworded is None:
            return found
        of_patient = any(self._rules.no_order.is_the_patients(tokens, one) for one in reworded.found.readings)
        return replace(reworded, sure=reworded.sure and not of_patient)

    def may_be_left(self, token: Token) -> bool:
        """Whether a word tells nothing that a guess must account for."""
        return self._cutter.may_be_left(token)

    def in_other_words(self, tokens: Sequence[Token]) -> Iterator[tuple[Token, ...]]:
        """A line with words of the grammar in place of its own, and nothing else changed but courtesy."""
        for each in self._rewording.lines(tokens):
            if each.changes <= {Change.REWORDED, Change.LEFT_OUT}:
                yield each.tokens

    def _in_other_words(self, tokens: Sequence[Token]) -> Arranged | None:
        """What a line says with words of the grammar in place of its own."""
        lines = sorted(self._rewording.lines(tokens), key=lambda each: each.many)
        for _, alike in groupby(lines, key=lambda each: each.many):
            told: dict[tuple[Meanings, ...], Arranged] = {}
            for each in alike:
                found = self._rules.found(each.tokens)
                if found is not None and each.may_say(found, self._rules.no_order):
                    again = Arranged(written(each.tokens), found, each.is_sure(found))
                    told.setdefault(found.readings, again)
            if told:
                return next(iter(told.values())) if len(told) == 1 else None
        for each in reversed(lines):
            arranged = self._in_order(each.tokens)
            if arranged is not None and each.may_say(arranged.found, self._rules.no_order):
                return replace(arranged, sure=arranged.sure and each.is_sure(arranged.found))
        return None

    def gist(self, line: str) -> str | None:
        """The one value that a line tells with its sign, among words of no matter: worth a question and no more."""
        told: dict[Meanings, str] = {}
        tokens = tokenise(line, self._language)
        if tokens[0].text in self._cutter.asking:
            return None
        for cut in self._cutter.cuts(tokens, whole=False, loosely=True):
            together = None if is_doubted(cut) else self._put_together(cut)
            if together is None:
                continue
            _, text, found = together
            (reading,) = found.readings
            if is_valued(reading) and not self._rules.no_order.is_none(tokens, reading):
                told.setdefault(reading, text)
        return next(iter(told.values())) if len(told) == 1 else None

    def _in_order(self, tokens: Sequence[Token]) -> Arranged | None:
        for whole in (False, True):
            told: dict[tuple[Meanings, ...], Arranged] = {}
            for cut in self._cutter.cuts(tokens, whole=whole):
                each = self._read(cut, tokens)
                if each is not None:
                    told.setdefault(each.found.readings, each)
            if told:
                return next(iter(told.values())) if len(told) == 1 else None
        return None

    def _read(self, cut: Sequence[Piece], tokens: Sequence[Token]) -> Arranged | None:
        together = None if is_doubted(cut) else self._put_together(cut)
        if together is None:
            return None
        told, text, found = together
        (reading,) = found.readings
        found = _with_remarks(found, cut)
        unknown = sum(each.kind == Kind.UNKNOWN for each in cut)
        beside = any(each.kind == Kind.TO_PATIENT for each in cut)
        if not are_signed(reading) and (unknown or beside or self._is_of_oneself(cut)):
            return None
        unsure = self._is_unsure(reading, told, cut, tokens)
        no_order = self._rules.no_order.is_none(tokens, reading)
        if all(is_strong(each) or isinstance(each, say.Eye) for each in reading) and not is_of_eyes(reading):
            sure = not (unknown or unsure or no_order)
            return Arranged(text, found, sure, True, unknown) if unknown <= _MOST_ASKED else None
        if no_order or unknown or beside or not self._tells(reading, found, told, cut):
            return None
        # "Was" beside what is said of many things is of another time; beside a look it is asked about.
        if _is_of_before(told, cut) and Kind.SEEN not in {each.kind for each in told}:
            return None
        return Arranged(text, found, sure=not unsure)

    def _put_together(self, cut: Sequence[Piece]) -> tuple[list[Piece], str, Found] | None:
        """The pieces that count, the line in the order of the grammar, and the one thing that it says so."""
        hedges = [each for each in cut if each.kind == Kind.ABOUT]
        told = [*self._mended([each for each in cut if each.tells and each not in hedges]), *hedges]
        if [each.kind for each in told] in _BEFORE_SORRY:
            told.pop()
        if any(each.kind == Kind.FIX for each in told[1:]):
            return None
        told = [replace(each, kind=Kind.FIX) if each.kind == Kind.SHOULD else each for each in told]
        entries = entries_of([each for each in told if each.kind != Kind.ABOUT])
        if entries is None or any(self._run_together(entry) or _is_split(entry) for entry in entries):
            return None
        text = " ".join(map(text_of, entries))
        found = self._found(text, bool(hedges)) or self._as_axis(told)
        if told and told[0].kind == Kind.FIX and len(told) == 2:
            found = self._as_answer(told[1].words) or found
        if found is None or len(found.readings) != 1:
            return None
        if any(power.size_d is None for each in found.readings[0] for power in powers(each)):
            return None
        if told[0].kind == Kind.FIX and any(isinstance(each, _DENIED) for each in found.readings[0]):
            return None  # "no PL" is no light perception
        return told, text, found

    def _is_unsure(
        self, reading: Meanings, told: Sequence[Piece], cut: Sequence[Piece], tokens: Sequence[Token]
    ) -> bool:
        """Whether it is only thought to be so, or of another time; or a look told by what it is not ("not bright")."""
        by_denial = any(
            each.kind == Kind.SEEN and tokens[each.start].text in self._sets.doubt for each in cut
        )
        guessed = is_guessed(cut) and not all(isinstance(each, _PLAIN_ORDERS) for each in reading)
        return by_denial or guessed or _is_of_before(told, cut)

    def _tells(self, reading: Meanings, found: Found, told: Sequence[Piece], cut: Sequence[Piece]) -> bool:
        """Whether pieces that are said of many things are an entry here: nothing that another person may mean."""
        kinds = {each.kind for each in told} - {Kind.ABOUT}
        beside = {
            word for each in cut if not each.tells and each.kind != Kind.REMARK for word in each.words.split()
        }
        whole = kinds <= {Kind.FIX, Kind.WHOLE}
        if (Kind.WHOLE in kinds and not whole) or (kinds & {Kind.LOOKS, Kind.SEEN} and Kind.MOTION in kinds):
            return False
        if any(each.kind == Kind.LIGHT for each in cut) or (
            cut[0].words.split()[0] in self._cutter.asking and not whole
        ):
            return False
        if kinds == {Kind.NUMBER} and not found.rule.startswith(ANSWERS):
            return False
        if found.rule.startswith(ANSWERS):
            numbers = Kind.NUMBER in kinds and found.rule not in (_ANSWERS_AXIS, _ANSWERS_CONFIRM)
            wavers = len(told) < len({(each.kind, each.words) for each in cut if each.tells})
            doubted = Kind.EYE in kinds and any(each.kind == Kind.ABOUT for each in cut)
            return not (numbers or wavers or doubted) and beside <= self._cutter.mild
        if any(isinstance(each, _OF_MANY_THINGS) for each in reading):
            return False
        if kinds == {Kind.EYE}:
            return all(each.kind != Kind.ABOUT for each in cut)
        if kinds == {Kind.MOTION}:
            (seen,) = (each for each in told if each.kind == Kind.MOTION)
            little = self._cutter.mild | self._sets.idle if is_guessed(cut) else self._cutter.mild
            return (seen.end - seen.start > 1 or beside <= little) and not beside & self._cutter.me
        return not (Kind.LOOKS in kinds and beside & self._cutter.me)

    def _mended(self, told: Sequence[Piece]) -> list[Piece]:
        """Without what was said twice, and what was put right at once: "plus one, no, plus one and a half"."""
        kept: list[Piece] = []
        for each in told:
            if kept and kept[-1].kind == each.kind == Kind.EYE and OTHER in kept[-1].words.split():
                kept.pop()  # "round to the other side, left eye"
            if len(kept) > 1 and kept[-1].kind == Kind.FIX and kept[-2].kind == each.kind:
                del kept[-2:]
            if kept and self._is_in(kept[-1], each):
                kept[-1] = each
            elif not kept or not self._is_in(each, kept[-1]):
                kept.append(each)
        return kept

    def _is_in(self, one: Piece, other: Piece) -> bool:
        """Whether a piece says no more than another: the same, or "vertical" and "streak vertical"."""
        if one.kind != other.kind or one.kind == Kind.SEEN:
            return False
        more = set(other.words.split()) - set(one.words.split())
        less = set(one.words.split()) - set(other.words.split())
        return one.words == other.words or (one.kind == Kind.PLACE and not less and more <= self._sets.names)

    def _run_together(self, entry: Sequence[Piece]) -> bool:
        """Whether two pieces side by side would be one number: "ninety" and "two and a half"."""
        words = [tokenise(each.words, self._language) for each in entry]
        return any(
            self._sets.of_number(one[-1])
            and self._sets.of_number(other[0])
            and not self._sets.is_sign(other[0])
            for one, other in pairwise(words)
        )

    def _as_answer(self, text: str) -> Found | None:
        """What words say as an answer that is the same behind "sorry"."""
        found = self._rules.found(tokenise(text, self._language))
        return found if found is not None and found.rule in _SORRY_OR_NOT else None

    def _as_axis(self, told: Sequence[Piece]) -> Found | None:
        """What a place says as an axis that is asked for: "on fifteen degrees"."""
        if [each.kind for each in told] != [Kind.PLACE]:
            return None
        joint, _, number = told[0].words.partition(" ")
        found = self._rules.found(tokenise(number, self._language)) if joint in self._cutter.joints else None
        return found if found is not None and found.rule == _ANSWERS_AXIS else None

    def _is_of_oneself(self, cut: Sequence[Piece]) -> bool:
        """Whether words beside the pieces say it of the speaker."""
        return any(word in self._cutter.me for each in cut if not each.tells for word in each.words.split())

    def _found(self, text: str, about: bool) -> Found | None:
        found = self._rules.found(tokenise(text, self._language))
        if found is None or not about or not any(isinstance(each, say.Reading) for each in found.readings[0]):
            return found
        return self._rules.found(tokenise(f"{text} {_APPROXIMATELY}", self._language)) or found


def _is_of_before(told: Sequence[Piece], cut: Sequence[Piece]) -> bool:
    """Whether it is of another time, and not what was wrong."""
    return any(each.kind == Kind.UNSURE for each in cut) and all(each.kind != Kind.NOT for each in told)


def _with_remarks(found: Found, cut: Sequence[Piece]) -> Found:
    """With what is remarked beside it as a note: "due to cataract" is no look of the reflex, and not lost."""
    notes = tuple(say.Note(text=each.words) for each in cut if each.kind == Kind.REMARK)
    return found._replace(readings=tuple((*reading, *notes) for reading in found.readings))


def _is_split(entry: Sequence[Piece]) -> bool:
    """Whether an axis is said of what was neutral along it: behind its power it would be a cylinder's."""
    return {Kind.AXIS_TOLD, Kind.MOTION, Kind.POWER} <= {each.kind for each in entry}
