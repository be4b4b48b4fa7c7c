"""``python -m basslint``."""

import sys

from basslint.cli import main

sys.exit(main())
