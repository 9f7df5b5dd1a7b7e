"""How numbers, days, places and directions are written for who reads."""
