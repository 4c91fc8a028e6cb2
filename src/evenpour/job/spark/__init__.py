"""The spark calculators: dwell, timing, firing order, compression, and their pages."""
