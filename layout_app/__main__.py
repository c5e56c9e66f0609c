"""`python -m layout_app` is `busweave`."""

import sys

from layout_app.cli import main

sys.exit(main())
