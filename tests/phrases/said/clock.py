"""Times of day in words: "quarter to eleven" as hour and minute."""

Time = tuple[str, int, int]

_HOURS = "one two three four five six seven eight nine ten eleven twelve"
_ONES = {word: number for number, word in enumerate(_HOURS.split(), 1)}
_TEENS = {
    "thirteen": 13,
    "fourteen": 14,
    "fifteen": 15,
    "sixteen": 16,
    "eighteen": 18,
    "quarter": 15,
    "half": 30,
}
_TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fifty": 50}


def time_said(said: str) -> Time | None:
    """A time as ("at", hour, minute) or ("ago", 0, minutes); None for "now", which is when it is said.

    What is no time of a clock ("yesterday") is kept as it is, so that nothing understood is the same.
    """
    if said == "now":
        return None
    if ":" in said:
        hour, minute = said.split(":")
        return ("at", int(hour), int(minute))
    words = [word for word in said.split() if word not in ("a", "at", "minutes", "o'clock")]
    try:
        if words[-1] == "ago":
            return ("ago", 0, _number(words[:-1]))
        for between in ("past", "to"):
            if between in words:
                place = words.index(between)
                return _beside(_number(words[:place]), _ONES[words[place + 1]], later=between == "past")
        return ("at", _ONES[words[0]], _number(words[1:]))
    except KeyError:
        return (said, 0, 0)


def _beside(minutes: int, hour: int, *, later: bool) -> Time:
    return ("at", hour, minutes) if later else ("at", (hour - 2) % 12 + 1, 60 - minutes)


def _number(words: list[str]) -> int:
    """Raises KeyError for what is no number."""
    words = [word for word in words if word != "oh"]
    return sum({**_ONES, **_TEENS, **_TENS}[word] for word in words)
