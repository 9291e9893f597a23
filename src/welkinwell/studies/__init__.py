"""Many runs of the same simulation, to answer what one run cannot."""
