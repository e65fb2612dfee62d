"""`python -m ergo` is the command line, which loads where an interrupt is already answered."""

import sys

__all__ = ["run"]


def run() -> int:
    """Run the command line."""
    try:
        from ergo.cli.main import main

        return main()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(run())
