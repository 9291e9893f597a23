"""All that belongs to one kind of harvester: the radiative dew condenser."""
