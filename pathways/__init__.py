"""Trace where a farmyard spill runs, and site what stops it."""
