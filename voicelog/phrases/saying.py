"""Written numbers back to the words they may have been said in, as a JSGF expansion, for a recogniser of words."""

from voicelog.phrases.automaton import Token

# fmt: off
_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)
_TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
# fmt: on
_WRITTEN_FRACTIONS = {"1/2": "a half", "1/4": "a quarter", "3/4": "three quarters"}
_MARKS = {"+": "plus", "-": "minus", "x": "axis", "%": "percent", **_WRITTEN_FRACTIONS}
_BARS = ("/", ":", "-")
_FRACTIONS = {"25": "a quarter", "5": "a half", "50": "a half", "75": "three quarters"}
TEENS = {teen: 10 * (teen - 10) for teen in range(13, 20)}


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


def as_expansion(words: list[str]) -> str:
    """The words as one JSGF expansion; a number becomes a group of the ways to say it."""
    return " ".join(_MARKS[word] if word in _MARKS else _said(word) for word in words)


def _said(word: str) -> str:
    return _group(_ways(word)) if _is_number(word) else word


def teen_twins(words: list[str]) -> list[list[str]]:
    """The line with one -teen turned into its -ty or the reverse, once for each number that has a twin."""
    twins = []
    for place, word in enumerate(words):
        twin = _twin(word)
        if twin is not None:
            twins.append([*words[:place], twin, *words[place + 1 :]])
    return twins


def _twin(word: str) -> str | None:
    swaps = {_ONES[teen]: _TENS[ty // 10] for teen, ty in TEENS.items()}
    swaps |= {ty: teen for teen, ty in swaps.items()}
    if word in swaps:
        return swaps[word]
    if not word.isdigit() or len(word) not in (2, 3) or word[-3:-2] == "0":
        return None
    numbers = TEENS | {ty: teen for teen, ty in TEENS.items()}
    last_two = numbers.get(int(word[-2:]))
    return None if last_two is None else f"{word[:-2]}{last_two}"


def _is_number(word: str) -> bool:
    return word[0].isdigit() or (word[0] == "." and len(word) > 1)


def _group(ways: list[str]) -> str:
    return ways[0] if len(ways) == 1 else f"( {' | '.join(ways)} )"


def _ways(number: str) -> list[str]:
    if "." in number:
        whole, _, decimals = number.partition(".")
        return _decimal(whole, decimals)
    if len(number) <= 2:
        return [_cardinal(number), _digits(number)] if len(number) == 2 else [_cardinal(number)]
    if len(number) == 3:
        ways = [f"{_ONES[int(number[0])]} {_cardinal(number[1:])}", _digits(number)]
        return [f"{_ONES[int(number[0])]} hundred"] if number.endswith("00") else ways
    return [f"{_cardinal(number[:-2])} {_cardinal(number[-2:])}"]


def _decimal(whole: str, decimals: str) -> list[str]:
    before = _cardinal(whole) + " " if whole and int(whole) else ""
    ways = [f"{before}point {_digits(decimals)}"]
    if not before:
        ways += [f"( oh | zero ) {ways[0]}"]
    if len(decimals) == 2 and decimals[0] != "0":
        ways.append(f"{before}point {_cardinal(decimals)}")
        ways.append(f"{before}{_cardinal(decimals)}")
    if decimals in _FRACTIONS:
        ways.append(f"{before}and {_FRACTIONS[decimals]}" if before else _FRACTIONS[decimals])
    return ways


def _cardinal(number: str) -> str:
    value = int(number)
    if number[0] == "0" and len(number) > 1:
        return _digits(number)
    if value < 20:
        return _ONES[value]
    return _TENS[value // 10] + (f" {_ONES[value % 10]}" if value % 10 else "")


def _digits(number: str) -> str:
    return " ".join("( oh | zero )" if digit == "0" else _ONES[int(digit)] for digit in number)
