"""`python -m cutpaths`."""

from cutpaths.cli import main

main()
