"""`python -m cutpaths`."""

from cutpaths.cli import main

if __name__ == "__main__":
    main()
