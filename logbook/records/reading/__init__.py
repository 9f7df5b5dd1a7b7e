"""Every list, search, total and deadline of the book."""
