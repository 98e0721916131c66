"""`python -m steadyband`."""

from steadyband.cli import main

if __name__ == "__main__":
    main()
