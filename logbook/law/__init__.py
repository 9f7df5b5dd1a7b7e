"""Law as data: dated duty sets, which of them speak of a record, clocks, retention; no Django."""
