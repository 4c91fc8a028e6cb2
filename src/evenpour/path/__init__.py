"""Stages, steps, claims and proofs, staleness, the put-back list: (state, event) -> state."""
