"""``python -m brumal``: the command line."""

import sys

from brumal.cli import main

if __name__ == "__main__":
    sys.exit(main())
