"""All that belongs to one kind of harvester: the two-stage solar box."""
