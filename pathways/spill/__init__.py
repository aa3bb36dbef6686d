"""What a spill does on its way: what stays, what arrives, when, and what it takes."""
