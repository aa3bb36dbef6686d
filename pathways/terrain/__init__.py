"""Water over the ground: surface, drainage, hollows, pathways."""
