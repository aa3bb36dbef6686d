"""The `pathways` command."""
