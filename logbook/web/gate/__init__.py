"""Getting in: sign-up, login, reset, invitations; the members of a business; a person's own page."""
