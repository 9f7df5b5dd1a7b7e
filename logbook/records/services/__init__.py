"""What can be done to a record, one module per verb."""
