"""All that belongs to one kind of harvester: the passive solar box."""
