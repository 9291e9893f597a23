"""Timings. Each module prints a table and writes the result file of its own name."""
