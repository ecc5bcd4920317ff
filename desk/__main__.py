"""`python -m desk` is `cowlnote`."""

from desk.cli import main

main()
