"""``python -m evenpour`` is the command ``evenpour``."""

import sys

from evenpour.cli import main

if __name__ == "__main__":
    sys.exit(main())
