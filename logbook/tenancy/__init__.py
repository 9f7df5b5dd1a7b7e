"""Rows of a business: their base model, their history, saving them with what hangs on them."""
