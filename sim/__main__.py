"""`python -m sim` is the command `staylit`.

While it loads, an interruption ends it at once: there is nothing to put away yet, nothing to say.
"""

import signal


def main() -> None:
    """The entry point: load the command line, and run it."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from sim import cli

    cli.main()


if __name__ == "__main__":
    main()
