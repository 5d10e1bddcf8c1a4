"""Numbers as people in many places say them: powers, axes, distances, clock times and runs of digits.

Every function draws one wording from `chance`; none looks at what the log's grammar can understand, so that
the network learns the sounds of what people say and not the habits of one list.
"""

from __future__ import annotations

from random import Random

UNITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = (
    *("ten", "eleven", "twelve", "thirteen", "fourteen"),
    *("fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
NOTHINGS = ("oh", "zero", "nought")
METRES = (
    *("half a metre", "a metre", "one metre", "two thirds of a metre", "point six seven metres"),
    *("a third of a metre", "point five metre", "one over two metres", "twenty six inches"),
)
READING_SIZES = ("five", "six", "eight", "ten", "twelve", "eighteen")
LINES_IN_FEET = (
    *("fifteen", "twenty", "twenty five", "thirty", "forty", "fifty", "sixty", "seventy", "eighty"),
    *("one hundred", "two hundred"),
)
LINES_IN_METRES = (
    *(
        "four",
        "five",
        "six",
        "seven point five",
        "nine",
        "twelve",
        "eighteen",
        "twenty four",
        "thirty six",
        "sixty",
    ),
)


def below_hundred(number: int) -> str:
    """1 to 99 in words."""
    if number < 10:
        return UNITS[number - 1]
    if number < 20:
        return TEENS[number - 10]
    tens = TENS[number // 10 - 2]
    return f"{tens} {UNITS[number % 10 - 1]}" if number % 10 else tens


def digit_by_digit(digits: str, chance: Random) -> str:
    """Digits one after another; zero is oh, zero or nought, the same throughout; sometimes "double" for a pair."""
    nothing = chance.choice(NOTHINGS)
    words = [nothing if digit == "0" else UNITS[int(digit) - 1] for digit in digits]
    if chance.random() < 0.15:
        for place in range(len(words) - 1):
            if words[place] == words[place + 1]:
                words[place : place + 2] = ["double", words[place]]
                break
    return " ".join(words)


def digits(chance: Random) -> str:
    """A run of one to seven digits, short ones more often."""
    length = chance.choice((1, 2, 2, 3, 3, 3, 4, 4, 5, 6, 7))
    return digit_by_digit("".join(chance.choice("0123456789") for _ in range(length)), chance)


def contrast(chance: Random) -> str:
    """A -teen or a -ty, which must never be taken for each other."""
    return chance.choice((*TEENS[3:], *TENS[1:]))


def magnitude(chance: Random) -> str:
    """A power without its sign, mostly in quarters."""
    whole = chance.choice((0, 0, 1, 1, 2, 2, 3, 3, 4, 5, 6, 7, 8, 9, chance.randint(10, 22)))
    hundredths = chance.choice((0, 25, 50, 75) * 6 + (12, 37, 62, 87, chance.randint(1, 99)))
    if hundredths == 0:
        return _whole(whole, chance)
    habits = (_point, _run_together, _fraction) if hundredths in (25, 50, 75) else (_point, _run_together)
    return chance.choices(habits, (5, 4, 3)[: len(habits)])[0](whole, hundredths, chance)


def _whole(whole: int, chance: Random) -> str:
    said = below_hundred(whole) if whole else chance.choice(("zero", "nought", "plano", "nothing"))
    if not whole or chance.random() < 0.6:
        return said
    nothing = chance.choice(NOTHINGS)
    endings = (f"point {nothing}", f"double {nothing}", f"point {nothing} {nothing}", "point double oh")
    return f"{said} {chance.choice((*endings, f'{nothing} {nothing}', 'dioptres', 'hundred'))}"


def _point(whole: int, hundredths: int, chance: Random) -> str:
    before = below_hundred(whole) if whole else chance.choice(("", "zero", "oh", "nought"))
    written = f"{hundredths:02}"
    if written[1] == "0" and chance.random() < 0.7:
        written = written[0]
    together = len(written) == 2 and written[0] != "0" and chance.random() < 0.2
    after = below_hundred(int(written)) if together else digit_by_digit(written, chance)
    return f"{before} {chance.choices(('point', 'comma'), (6, 1))[0]} {after}".strip()


def _run_together(whole: int, hundredths: int, chance: Random) -> str:
    written = f"{hundredths:02}"
    as_digits = digit_by_digit(written, chance)
    after = below_hundred(hundredths) if hundredths >= 10 and chance.random() < 0.75 else as_digits
    if whole:
        hundred = f"{below_hundred(whole)} {after}"
        return hundred if whole > 9 or chance.random() < 0.95 else hundred.replace(" ", " hundred and ", 1)
    return f"{chance.choice(('', 'oh', 'zero', 'nought'))} {after}".strip()


def _fraction(whole: int, hundredths: int, chance: Random) -> str:
    part = {
        25: ("a quarter", "a quarter", "quarter", "one quarter"),
        50: ("a half", "a half", "half", "one half"),
        75: ("three quarters", "three quarters", "three quarter"),
    }[hundredths]
    said = chance.choice(part)
    if not whole:
        unit = chance.choice(("", "", f" {chance.choice(('a', 'of a'))} dioptre"))
        return "half a dioptre" if hundredths == 50 and chance.random() < 0.2 else said + unit
    if whole == 1 and chance.random() < 0.2:
        return f"a dioptre and {said}"
    between = chance.choice((" and ", " and ", " and ", " "))
    unit = chance.choice(("", "", "", "", " dioptres"))
    return f"{below_hundred(whole)}{between}{said}{unit}"


def power(chance: Random) -> str:
    """A power with its sign in front, or now and then behind."""
    sign = chance.choices(("plus", "minus", "positive", "negative"), (20, 20, 1, 1))[0]
    said = magnitude(chance)
    if chance.random() < 0.07:
        return f"{said} {sign}"
    return f"{sign} {said}"


def axis(chance: Random) -> str:
    """An axis or meridian, 1 to 180, in one of the ways to say it."""
    number = chance.choice((chance.randint(1, 180), chance.randrange(5, 181, 5), 180, 90))
    digitwise = digit_by_digit(str(number).zfill(chance.choice((1, 1, 3))), chance)
    said = digitwise if chance.random() < 0.2 else _axis_as_number(number, chance)
    return said + chance.choice(("",) * 9 + (" degrees", " degree"))


def _axis_as_number(number: int, chance: Random) -> str:
    if number < 100:
        return below_hundred(number)
    rest = number - 100
    full = chance.choice(("one hundred", "a hundred", "hundred"))
    if rest == 0:
        return full
    if chance.random() < 0.3:
        return f"{full}{chance.choice((' and ', ' '))}{below_hundred(rest)}"
    if rest < 10:
        return f"one {chance.choice(NOTHINGS)} {UNITS[rest - 1]}"
    return f"one {below_hundred(rest)}"


def distance(chance: Random) -> str:
    """A working distance."""
    if chance.random() < 0.2:
        return chance.choice(METRES)
    number = chance.choice((67, 67, 66, 50, 50, 40, 33, 60, 62, 65, 70, 80, chance.randint(20, 99)))
    tenth = f" point {chance.choice(UNITS)}" if chance.random() < 0.07 else ""
    unit = chance.choice(("",) * 5 + (" centimetres", " centimetres", " centimetre", " c m"))
    return below_hundred(number) + tenth + unit


def acuity(chance: Random) -> str:
    """An acuity: metric, in feet, decimal, logMAR, or as a reading size."""
    if chance.random() < 0.1:
        return f"n {chance.choice(READING_SIZES)}"
    if chance.random() < 0.2:
        return f"{chance.choice(('', 'zero ', 'nought ', 'one '))}point {digits_of(chance.randint(1, 2), chance)}"
    if chance.random() < 0.4:
        return f"twenty {chance.choice(LINES_IN_FEET)}"
    return f"six {chance.choice(('', '', '', 'over ', 'by '))}{chance.choice(LINES_IN_METRES)}"


def digits_of(length: int, chance: Random) -> str:
    """Exactly `length` digits."""
    return digit_by_digit("".join(chance.choice("0123456789") for _ in range(length)), chance)


def small(chance: Random) -> str:
    """A count of things, 2 to 20."""
    return below_hundred(chance.randint(2, 20))


def clock(chance: Random) -> str:
    """A time of day."""
    hour = below_hundred(chance.randint(1, 12))
    minute = chance.choice(("five", "ten", "fifteen", "twenty", "thirty", "forty five", "o'clock"))
    return (
        f"{hour} {minute}"
        if chance.random() < 0.6
        else f"{chance.choice(('half', 'ten', 'quarter'))} past {hour}"
    )


def price(chance: Random) -> str:
    """What something costs, without a sign."""
    pounds = chance.choice((*range(5, 100, 5), 110, 120, 145, 180, 199, 250, 375, 490, chance.randint(1, 99)))
    hundreds, rest = divmod(pounds, 100)
    said = below_hundred(rest) if rest else ""
    if hundreds:
        hundred = (
            f"{chance.choice(('a', UNITS[hundreds - 1])) if hundreds == 1 else UNITS[hundreds - 1]} hundred"
        )
        short = f"{UNITS[hundreds - 1]} {said}" if rest >= 10 else f"{hundred} and {said}"
        said = chance.choice((short, f"{hundred} and {said}")) if rest else hundred
    unit = chance.choice(("", "", "", "pounds", "dollars", "euros", "euro", "rand", "shillings"))
    pence = chance.choice(("", "", "", "", "fifty", "ninety nine", "twenty five", "and a half"))
    return " ".join(f"{said} {unit} {pence}".split())


def age(chance: Random) -> str:
    """Years of a grown person's life."""
    return below_hundred(chance.randint(18, 92))


def tens(chance: Random) -> str:
    """A number below a hundred, not a small one."""
    return below_hundred(chance.randint(20, 99))


def year(chance: Random) -> str:
    """A year, as it is said."""
    if chance.random() < 0.5:
        return f"nineteen {below_hundred(chance.randint(30, 99))}"
    last = chance.randint(1, 25)
    return f"two thousand and {below_hundred(last)}" if last < 10 else f"twenty {below_hundred(last)}"


def phone(chance: Random) -> str:
    """A run of three to eleven digits, one after another or in pairs."""
    length = chance.choice((3, 4, 5, 6, 6, 7, 7, 8, 10, 11))
    if chance.random() < 0.2:
        return " ".join(below_hundred(chance.randint(10, 99)) for _ in range(length // 2))
    return digits_of(length, chance)
