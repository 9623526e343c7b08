"""`python -m geoqa`: the command line, where its script is not on the path."""

from geoqa.cli import main

if __name__ == "__main__":
    main(prog_name="geoqa")
