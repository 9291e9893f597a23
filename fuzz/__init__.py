"""Damaged files for every reader: `make fuzz`, or `python -m fuzz --help`."""
