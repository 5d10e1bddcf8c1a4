"""How much a reading tells by itself, whatever words stood beside it."""

from voicelog.phrases import meanings as say
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.plainest import powers


def is_of_eyes(reading: Meanings) -> bool:
    """Whether it names eyes and nothing else."""
    return all(isinstance(each, say.Eye) for each in reading)


def are_signed(reading: Meanings) -> bool:
    """Whether all its powers have their signs; nought needs none."""
    return all(power.sign is not None or not power.size_d for each in reading for power in powers(each))


def is_valued(reading: Meanings) -> bool:
    """Whether it is of powers with their signs, and of the eye that they belong to."""
    of_power = [each for each in reading if not isinstance(each, say.Eye)]
    return (
        bool(of_power)
        and all(map(powers, of_power))
        and are_signed(reading)
        and not any(map(is_step, reading))
    )


def is_step(told: say.Meaning) -> bool:
    """Whether it is more or less of a lens: "ten more" is said of many things."""
    return isinstance(told, say.Lenses) and told.lens is not None and told.lens.on_top


def is_strong(told: say.Meaning) -> bool:
    """Whether it is an entry whatever stood beside it: it names what its value is of."""
    match told:
        case say.Reading(where=say.Where(), lens=say.Lens()) | say.Change():
            return are_signed((told,))
        case say.Reading(where=say.Where(), motion="with" | "against" | "neutral"):
            return told.lens is None
        case say.Reading(motion="neutral", lens=say.Lens(sphere=say.Power())):
            return are_signed((told,))
        case _:
            return False


def takes_away(reading: Meanings) -> bool:
    """Whether something is scratched or taken out: that is not offered for words that say something else."""
    return any(
        isinstance(each, say.Scratch) or (isinstance(each, say.Lenses) and each.remove is not None)
        for each in reading
    )
