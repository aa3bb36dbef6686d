"""Run the command as ``python -m pathways_cli``."""

from .main import main

main()
