"""``python -m basslint``."""

import sys

from basslint.cli.main import main

sys.exit(main())
