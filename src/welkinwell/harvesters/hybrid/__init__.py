"""All that belongs to one kind of harvester: the hybrid of sun, night sky and electricity."""
