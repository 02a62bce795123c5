"""`python -m flatten` is the command `trimloft`."""

import sys

from flatten.app.stopping import Stopped, listen


def main() -> None:
    """Run the command line and leave with its exit code; a signal is heard before anything large is loaded."""
    listen()
    try:
        from flatten.app.cli import main as command

        command()
    except Stopped as stopped:
        print(stopped, file=sys.stderr)
        sys.exit(stopped.exit_code)


if __name__ == "__main__":
    main()
