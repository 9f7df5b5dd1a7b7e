"""What changes the book: one module per verb, and the forms that read what was typed."""
