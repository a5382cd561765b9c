"""`python -m handoff` is the command `handoff`."""

from handoff.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
