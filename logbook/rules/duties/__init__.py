"""The law of spray records as dated data, and what it asks of one record."""
