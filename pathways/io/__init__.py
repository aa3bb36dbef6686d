"""Read a farm folder, write its results: the only door to files."""
