"""Setting the engine: the mixture screw's ledger, spark calculators, and what traces of a running engine say."""
