"""Lets ``python -m tackwatch.cli`` be the command ``tackwatch``."""

import sys

from tackwatch.cli import main

if __name__ == "__main__":
    sys.exit(main())
