"""One engine: its sheet."""
