"""What every app with rows stands on: tenant rows, quantity columns, refusals."""
