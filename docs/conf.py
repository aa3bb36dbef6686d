"""How the documentation is built: `poe docs`, warnings are errors, no network."""

from __future__ import annotations

import sys
from importlib import metadata
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # farm_tables

project = "Farm Pathways"
# `version` imported by name would become Sphinx's own setting of that name.
release = metadata.version("farm-pathways")

extensions = ["myst_parser", "numpydoc", "sphinx.ext.autodoc", "farm_tables"]
exclude_patterns = ["_build"]
myst_heading_anchors = 3

# An undocumented, unknown or misplaced parameter, a return value without a description
# and a summary without a full stop fail the build.
numpydoc_validation_checks = {"PR01", "PR02", "PR03", "RT03", "SS03"}
numpydoc_show_class_members = False
autodoc_typehints = "none"  # numpydoc's Parameters give the types
autodoc_member_order = "bysource"

html_theme = "furo"
html_title = f"Farm Pathways {release}"
html_copy_source = False
