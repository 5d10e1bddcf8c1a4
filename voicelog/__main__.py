"""`python -m voicelog`."""

import sys

from voicelog.cli import main

sys.exit(main())
