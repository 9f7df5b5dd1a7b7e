"""What is refused, what went wrong, and how it is told and logged."""
