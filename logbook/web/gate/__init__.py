"""Getting in: sign-up, login, reset, invitations; members of a business; a person's own page."""
