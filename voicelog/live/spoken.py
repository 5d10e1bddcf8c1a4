"""What is read back, in words: signs, powers, axes; -teen and -ty numbers digit by digit as well.

"Fifteen" and "fifty" are misheard most, by people too (Institute for Safe Medication Practices, Medication Safety
Alert 24 January 2001), so the ear gets "fifteen, one five".
"""

import re

from voicelog.exam.entries import DistanceEntry, Entry, EyeEntry, LensesEntry, ReadingEntry
from voicelog.exam.events import Act, Put
from voicelog.optics import written_power

# fmt: off
_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
# fmt: on
_SPOKEN_UNITS = (
    (r" cm\b", " centimetres"),
    (r" mm\b", " millimetres"),
    (r" %", " percent"),
    (r" D\b", " dioptres"),
    (r" DS\b", " sphere"),
    (r"(?<=\d)/(?=\d)", " "),  # an acuity: "6/9" is said "six nine"
    (r"(?<=\d):0(?=\d)", " oh "),  # a time of day
    (r"(?<=\d):(?=\d)", " "),
)
_NUMBER = re.compile(r"(?P<sign>[+-])?(?P<whole>\d+)(?:\.(?P<decimals>\d+))?")


def spoken(text: str) -> str:
    """A line of the log as it is spoken: "sphere +1.25, axis 015" is "sphere plus one point two five, axis fifteen,
    one five"."""
    text = re.sub(r" x (?=\d)", " axis ", text)
    # "streak vertical (power along 180)": the eye gets both names of a place, the ear the one that was used.
    text = re.sub(r" \((power along|streak) \d+\)", "", text)
    text = re.sub(r"\b(vertical|horizontal) \(\d+\)", r"\1", text)
    for written, words in _SPOKEN_UNITS:
        text = re.sub(written, words, text)
    return _NUMBER.sub(_number, text)


def power(power_d: float) -> str:
    """A power in dioptres: "plus three", "minus point two five", "plano"."""
    return spoken(written_power(power_d))


def whole(number: int) -> str:
    """A whole number up to 999: "one hundred and seventy five"."""
    if number >= 100:
        rest = number % 100
        return f"{_ONES[number // 100]} hundred" + (f" and {whole(rest)}" if rest else "")
    if number < 20:
        return _ONES[number]
    return _TENS[number // 10] + (f" {_ONES[number % 10]}" if number % 10 else "")


def digits(number: str) -> str:
    """Digit by digit: "one five"."""
    return " ".join(_ONES[int(digit)] for digit in number)


def is_teen_or_ty(number: int) -> bool:
    """Whether a number ends in thirteen to nineteen, or in thirty, forty ... ninety."""
    last = number % 100
    return 13 <= last <= 19 or (last >= 30 and last % 10 == 0)


def _number(match: re.Match[str]) -> str:
    sign = {"+": "plus ", "-": "minus ", None: ""}[match["sign"]]
    number, decimals = int(match["whole"]), (match["decimals"] or "").rstrip("0")
    if number > 999:
        return sign + digits(match["whole"])
    if decimals:
        return f"{sign}{whole(number) + ' ' if number else ''}point {digits(decimals)}"
    # "Minus twenty five" may also mean -0.25, so a power of two digits is said with its point.
    point = " point zero" if sign and number >= 10 else ""
    doubled = f", {digits(str(number))}{point}" if is_teen_or_ty(number) else ""
    return f"{sign}{whole(number)}{point}{doubled}"


def of_act(act: Act, *, short: bool) -> str:
    """What was done as it is read back. Short: a new entry's value; what it changes besides is told in any case."""
    first = act.changes[0] if act.changes else None
    if not isinstance(first, Put) or not act.words.startswith(first.entry.words()):
        return spoken(act.words)
    besides = spoken(act.words.removeprefix(first.entry.words()))
    return (value(first.entry) if short else whole_entry(first.entry)) + besides


def value(entry: Entry) -> str:
    """The value of an entry and nothing else: "plus three"; what has no value is named."""
    match entry:
        case ReadingEntry(motion=motion):
            lens = _named_lens(entry)
            seen = motion if motion != "neutral" or not lens else ""
            about = "about " if entry.approximate else ""
            return about + ", ".join(part for part in (seen, lens) if part)
        case LensesEntry():
            return _named_lens(entry) or spoken(entry.lenses.words())
        case DistanceEntry(distance_cm=distance_cm):
            return spoken(f"{round(distance_cm, 1):g}")
        case EyeEntry(eye=eye):
            return eye
        case _:
            return whole_entry(entry)


def whole_entry(entry: Entry) -> str:
    """The whole entry with its eye: "right eye: streak vertical neutral, sphere plus three"."""
    return spoken(entry.words())


def _named_lens(entry: ReadingEntry | LensesEntry) -> str:
    """The lenses that the entry itself put there; what stayed is not said again."""
    lenses = entry.lenses
    if entry.cylinder_from is not None or lenses.cylinder is None:
        stayed = entry.sphere_from is not None or lenses.sphere_d is None
        return "" if stayed else power(lenses.sphere_d or 0.0)
    if entry.sphere_from is not None:
        lenses = lenses.with_sphere(None)
    return spoken(lenses.words())
