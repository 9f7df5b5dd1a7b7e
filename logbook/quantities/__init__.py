"""Quantities as columns of a table and as inputs of a form."""
