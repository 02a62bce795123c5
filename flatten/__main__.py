"""`python -m flatten` is the command `trimloft`."""

from flatten.app.cli import main

if __name__ == "__main__":
    main()
