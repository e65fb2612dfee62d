"""`python -m ergo` is the command line."""

import sys

from ergo.show.cli import main

sys.exit(main())
