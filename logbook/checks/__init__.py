"""The checks by topic, their list, and what was delivered against the label; no Django."""
