"""How hard a text is to read: the grade of Flesch and Kincaid, and what of a document is prose.

Grade = 0.39 words per sentence + 11.8 syllables per word - 15.59 (Kincaid, Fishburne, Rogers & Chissom, Research Branch Report 8-75,
1975; the formula as an encyclopaedia gives it). Syllables are counted by a rule of thumb: groups of vowels, without a silent e.
"""

import re

TERMS = frozenset(
    [
        "accommodation",
        "astigmatism",
        "cylinder",
        "cylinders",
        "dioptre",
        "dioptres",
        "meridian",
        "meridians",
        "neutral",
        "neutralise",
        "neutrality",
        "objective",
        "optometrist",
        "oblique",
        "practitioner",
        "refraction",
        "refractions",
        "repeatability",
        "retinoscope",
        "retinoscopy",
        "spectacles",
        "subjective",
        "voicelog",
    ]
)
"""Terms of the trade (and our name) that must stand. Each counts as an easy word, of two syllables."""


def syllables(word: str) -> int:
    """Syllables of a word in small letters; a number counts as one."""
    if word in TERMS:
        return 2
    bare = re.sub(r"(?<=[^aeiouyl])e$|(?<=[^aeiouytd])ed$|(?<=[^aeiouysxzgch])es$", "", word)
    return max(1, len(re.findall(r"[aeiouy]+", bare)))


def counts(text: str) -> tuple[int, int, int]:
    """Sentences, words and syllables. A colon or semicolon ends no sentence."""
    words = re.findall(r"[A-Za-z]+(?:['’][a-z]+)?|\d[\d.,]*", text)
    ends = re.findall(r"[.!?](?=[\s)\"”*]|$)", text.strip())
    return max(1, len(ends)), len(words), sum(syllables(word.lower()) for word in words)


def grade(text: str) -> float:
    """The grade of a text; 0 for one without words."""
    sentences, words, sounds = counts(text)
    return 0.39 * words / sentences + 11.8 * sounds / words - 15.59 if words else 0.0


def paragraphs(document: str) -> list[str]:
    """The prose of a Markdown document, in paragraphs of twelve words or more: a grade of fewer words says little.

    No headings, tables, pictures or code; of links their words alone; a piece of code in a sentence is read as "it".
    """
    document = re.sub(r"^```.*?^```", "", document, flags=re.DOTALL | re.MULTILINE)
    found = []
    for block in re.split(r"\n\s*\n|\n(?=- )", document):
        text = " ".join(block.split())
        if not text or text.startswith(("#", "|", "!")) or block.startswith("    "):
            continue
        text = re.sub(r"\[([^]]*)\]\([^)]*\)", r"\1", text)
        text = re.sub(r"`[^`]*`", "it", text).replace("*", "").removeprefix("- ")
        if len(text.split()) >= 12:
            found.append(text)
    return found
