"""Rulebooks, one .toml a jurisdiction."""
