"""Inputs that nobody meant, for everything that reads a file: `python -m tests.fuzz --help`."""
