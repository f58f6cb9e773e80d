"""For all tests: nothing is written into the user's own cache."""

import os

os.environ["AUDITOR_CACHE"] = "off"
