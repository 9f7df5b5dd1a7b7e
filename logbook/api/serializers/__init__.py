"""What goes in and out, field by field; whether it can stand is for the services to say."""
