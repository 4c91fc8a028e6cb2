"""What a recording says: its columns, its clock, its stretches, and the verdicts on them."""
