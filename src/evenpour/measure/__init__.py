"""Quantities, instruments, readings, limits and verdicts; evenness of catches."""
