"""Written numbers back to the words they may have been said in, as a JSGF expansion, for a recogniser of words."""

from voicelog.phrases.automaton import Token
from voicelog.phrases.language import Language, Numbers

_WRITTEN_FRACTIONS = ("1/2", "1/4", "3/4")
_BARS = ("/", ":", "-")
_DECIMALS_OF_FRACTIONS = {"25": "1/4", "5": "1/2", "50": "1/2", "75": "3/4"}


def numbers_together(tokens: tuple[Token, ...]) -> list[str]:
    """A tokenised line as words, each run of joined digits (with its point) as one of them.

    A bar behind a digit only parts two numbers ("6/9", "6-9", "10:15"), but for "1/2" and its like, which stay whole:
    no sign follows a digit without a space.
    """
    words: list[str] = []
    apart = False
    for token in tokens:
        digit = token.text.isdigit() or token.text == "."
        behind = token.joined and bool(words) and (words[-1][-1].isdigit() or words[-1][-1] == ".")
        if behind and token.text in _BARS:
            apart = True
            continue
        if behind and digit and apart and f"{words[-1]}/{token.text}" in _WRITTEN_FRACTIONS:
            words[-1] = f"{words[-1]}/{token.text}"
        elif behind and digit and not apart:
            words[-1] += token.text
        else:
            words.append(token.text)
        apart = False
    return words


def as_expansion(words: list[str], language: Language) -> str:
    """The words as one JSGF expansion; a number becomes a group of the ways to say it.

    A number that the language has no words for stays as it is.
    """
    if language.numbers is None:
        return " ".join(words)
    saying = _Saying(language.numbers)
    return " ".join(saying.word(word) for word in words)


def misheard_twins(words: list[str], language: Language) -> list[list[str]]:
    """The line with one number turned into the one it is taken for, or the reverse: once for each that has a twin."""
    twins = []
    for place, word in enumerate(words):
        twin = _twin(word, language)
        if twin is not None:
            twins.append([*words[:place], twin, *words[place + 1 :]])
    return twins


def _twin(word: str, language: Language) -> str | None:
    both_ways = dict(language.misheard) | {other: one for one, other in language.misheard.items()}
    if language.numbers is not None:
        saying = _Saying(language.numbers)
        said = {saying.cardinal(str(one)): saying.cardinal(str(other)) for one, other in both_ways.items()}
        if word in said:
            return said[word]
    if not word.isdigit() or len(word) not in (2, 3) or word[-3:-2] == "0":
        return None
    last_two = both_ways.get(int(word[-2:]))
    return None if last_two is None else f"{word[:-2]}{last_two}"


class _Saying:
    """Numbers in the words of a language."""

    def __init__(self, numbers: Numbers) -> None:
        self._numbers = numbers
        self._zero = _group(list(numbers.digit_zero))

    def word(self, word: str) -> str:
        """A word, mark, fraction or number as it is said."""
        numbers = self._numbers
        if word in numbers.marks:
            return numbers.marks[word]
        if word in numbers.fractions:
            return numbers.fractions[word]
        number = word[0].isdigit() or (word[0] == "." and len(word) > 1)
        return _group(self._ways(word)) if number else word

    def cardinal(self, number: str) -> str:
        """A number below 100; one that is written with a zero before it, digit by digit."""
        value = int(number)
        if number[0] == "0" and len(number) > 1:
            return self._digits(number)
        if value < 20:
            return self._numbers.below_twenty[value]
        ones = f" {self._numbers.below_twenty[value % 10]}" if value % 10 else ""
        return self._numbers.tens[value // 10] + ones

    def _ways(self, number: str) -> list[str]:
        if "." in number:
            whole, _, decimals = number.partition(".")
            return self._decimal(whole, decimals)
        if len(number) <= 2:
            return (
                [self.cardinal(number), self._digits(number)] if len(number) == 2 else [self.cardinal(number)]
            )
        if len(number) == 3:
            hundreds = self._numbers.below_twenty[int(number[0])]
            if number.endswith("00"):
                return [f"{hundreds} {self._numbers.hundred}"]
            return [f"{hundreds} {self.cardinal(number[1:])}", self._digits(number)]
        return [f"{self.cardinal(number[:-2])} {self.cardinal(number[-2:])}"]

    def _decimal(self, whole: str, decimals: str) -> list[str]:
        point, joined_by = self._numbers.point, self._numbers.joined_by
        before = self.cardinal(whole) + " " if whole and int(whole) else ""
        ways = [f"{before}{point} {self._digits(decimals)}"]
        if not before:
            ways += [f"{self._zero} {ways[0]}"]
        if len(decimals) == 2 and decimals[0] != "0":
            ways.append(f"{before}{point} {self.cardinal(decimals)}")
            ways.append(f"{before}{self.cardinal(decimals)}")
        fraction = self._numbers.fractions.get(_DECIMALS_OF_FRACTIONS.get(decimals, ""))
        if fraction is not None:
            ways.append(f"{before}{joined_by} {fraction}" if before else fraction)
        return ways

    def _digits(self, number: str) -> str:
        return " ".join(
            self._zero if digit == "0" else self._numbers.below_twenty[int(digit)] for digit in number
        )


def _group(ways: list[str]) -> str:
    return ways[0] if len(ways) == 1 else f"( {' | '.join(ways)} )"
