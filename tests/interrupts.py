"""Programs that tests start must end by Ctrl-C, even where a shell began all of it in its background."""

import signal


def heed_interrupts() -> None:
    """To be called in the child before it starts (`preexec_fn`): a shell's background job ignores the signal."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
