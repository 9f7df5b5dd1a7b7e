#!/usr/bin/env python3
"""Django's command line for the spray logbook."""

from logbook.__main__ import main

if __name__ == "__main__":
    main()
