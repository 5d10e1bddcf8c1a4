"""Small things that every text for people needs: a number with its noun, and a value with its label. Pure."""


def counted(number: int, noun: str) -> str:
    """A number and what is counted: "1 eye", "2 eyes", "2 passes"."""
    if number == 1:
        return f"1 {noun}"
    return f"{number} {noun}{'es' if noun.endswith('s') else 's'}"


def labelled(label: str, text: str) -> str:
    """A value behind its label; alone where the value says itself what it is ("dull reflex")."""
    begins = text.partition(",")[0].split()
    return text if label.strip(", ") in begins else f"{label} {text}"
