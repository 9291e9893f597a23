"""`python -m welkinwell` is the command."""

from welkinwell.cli import main

if __name__ == "__main__":
    main()
