"""Plants of a case: each harvester with its rows, electricity, tank and cost, and what studies say of it."""
