"""Sheets: where they are found, how one is copied, edited and shown."""
