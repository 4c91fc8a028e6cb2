"""One module a page: what it asks job for, what its template may use, what it takes. See docs/pages.md."""
