"""The march through a year and its bookkeeping. Knows no physics."""
