"""All that belongs to one kind of harvester: the desiccant wheel."""
