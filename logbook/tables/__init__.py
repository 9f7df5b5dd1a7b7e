"""Lists as files for spreadsheets, written so that a text stays a text."""
