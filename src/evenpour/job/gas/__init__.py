"""Exhaust gas: readings worked out together, kept, and shown."""
