"""``python -m n2osim`` is the console command."""

import sys

from n2osim.cli import main

if __name__ == "__main__":
    sys.exit(main())
