"""`python -m cuekit`, the same as the command `cuekit`."""

from cuekit.cli import main

main()
