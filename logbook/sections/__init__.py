"""A record as a document: its sections and lines, once for page and paper; no Django."""
