"""The same jobs from a terminal.

Exit codes: 0 all is well; 1 the command ran and what it looked at is not well (a check found a
fault, a finding came out differently); 2 what was given cannot be used, and nothing was changed.
"""

from ironlace.cli.program import main

__all__ = ["main"]
