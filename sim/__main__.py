"""`python -m sim` is the command `staylit`."""

from sim.cli import main

main()
