"""What the practice tests share: how the command is run."""

from collections.abc import Callable

Run = Callable[..., tuple[int, str, str]]
"""Takes arguments of `voicelog practice` and `stdin`; gives exit status, standard output, standard error."""
