"""The facts of a record: what they are, in one declaration each; no Django and no rule."""
