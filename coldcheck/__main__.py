"""``python -m coldcheck``."""

from coldcheck.cli import main

main(prog_name="coldcheck")
