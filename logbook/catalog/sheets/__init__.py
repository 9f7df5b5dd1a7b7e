"""The shelf by the sheet: customers, fields, products and nozzles from CSV, XLSX and shape files.

`kinds` says once which columns a kind has; template, help text, dry run and write follow from it.
`reading` turns a file into rows of text, `checking` rows into a plan of what would be written,
`jobs` keeps the file between the look and the deed, `shapes` reads and writes boundaries.
"""
