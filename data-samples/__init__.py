"""The invented demo farm and the scripts that make its ground and its drawing."""
