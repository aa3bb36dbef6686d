"""The `pathways` command: words on the terminal, no arithmetic."""
