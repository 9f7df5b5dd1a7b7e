"""Signed records as a file that machines read, and such a file as drafts.

Two layouts of our own, on open standards. JSON, with a published JSON Schema (draft 2020-12), holds
everything that a seal states. CSV (RFC 4180), with one row per record and product, holds the
columns of `columns.COLUMNS`. Plots are GeoJSON (RFC 7946), crops have EPPO codes, growth stages are
BBCH, places ISO 3166-2, times ISO 8601 with their offset; a quantity is its decimal as text and its
unit.

Versions: "1.2" can be read by a reader of "1.0". A minor version adds members that may be absent,
and words to closed lists; a reader passes over a member that it does not know and says which. A
major version may change what a member means; a reader refuses one that it does not know.

A seal belongs to the business that made it: an import makes drafts, under ids that follow from the
ids in the file, so that importing again changes nothing.
"""
