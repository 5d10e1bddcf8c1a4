"""Named errors of the optics, all with one-line messages: what, the value, what is allowed."""


class OpticsError(ValueError):
    """Base of every error raised by the optics."""


class NotFiniteError(OpticsError):
    """A value is not a number, or is NaN or infinite."""


class PowerRangeError(OpticsError):
    """A power is beyond the 40 D that the optics accept."""


class AxisError(OpticsError):
    """An axis or meridian is outside 1 to 180 degrees, or is missing or given where it must not be."""


class DistanceError(OpticsError):
    """A working distance, or its uncertainty, is not a usable length."""


class SeparationError(OpticsError):
    """A distance between lens planes cannot be used, or puts a focus on the next plane."""


class FormError(OpticsError):
    """A cylinder form other than "minus" or "plus" was asked for."""


class StepError(OpticsError):
    """A rounding step is not usable."""


class MotionError(OpticsError):
    """A motion other than with, against or neutral was given."""


class RepeatsError(OpticsError):
    """A rule for repeated readings other than "last" or "mean" was given."""


class LensSetError(OpticsError):
    """A lens set is malformed, or a power cannot be made from it."""


class ErrorModelError(OpticsError):
    """A standard deviation or step of the error model is negative."""


class ShapeError(OpticsError):
    """Arrays do not have the documented shapes, or a matrix is not symmetric."""


class BoundsError(OpticsError):
    """A lower bound is not below its upper bound."""
