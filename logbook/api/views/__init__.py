"""The addresses: each parses, makes one call of a service or selector, and answers."""
