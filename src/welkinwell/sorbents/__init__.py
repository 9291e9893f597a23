"""Sorbents: isotherms as one potential per form, kinetics, and the data sheets that hold the numbers."""
