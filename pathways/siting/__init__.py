"""Where a pad and bed may go, in what order, and why."""
