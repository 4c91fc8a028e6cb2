"""Setting the engine: the mixture screw's ledger and next move, spark calculators, and what traces say."""
