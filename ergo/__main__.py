"""`python -m ergo` is the command line."""

import sys

from ergo.cli.main import main

sys.exit(main())
