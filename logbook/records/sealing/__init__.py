"""From rows to the sealed text: snapshot, seal, journal, freeze, verification."""
