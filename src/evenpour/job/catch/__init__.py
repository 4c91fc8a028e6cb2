"""Catches of a job: what they say of each part, what to catch next, and their page."""
