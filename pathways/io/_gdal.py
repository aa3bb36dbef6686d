"""Settings of GDAL that must be in place before it is loaded."""
