"""Forms of one row with the rows that hang on it."""
