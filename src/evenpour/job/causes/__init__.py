"""What may be wrong with a car: all readings of a job explained together, put into words, and kept."""
