"""Pure formulas in SI; they know nothing of cars or jobs."""
