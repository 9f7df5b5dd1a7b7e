"""Paper and drawings: what leaves the house. The only place with reportlab.

A drawing is laid out once, as plain primitives, and then printed or shown; page and paper cannot
differ. What a web page calls:

    from logbook.documents import record, sketch, strip, svg, window
    from logbook.documents import notices, posting, source, totals

    svg.to_svg(strip.rate_strip(line), key="strip-0")        # line: rules.assessment.RateLine
    strip.describe(line)                                     # the same in a sentence
    shown = window.window_of(snapshot, assessment)           # None where there is nothing to draw
    units = window.units_of(snapshot)                        # as entered
    svg.to_svg(window.draw_window(shown, units=units), key="window")
    wind = sketch.mean_wind_from(snapshot.weather)           # degrees, or None
    svg.to_svg(sketch.field_sketch(boundary, name="…", wind_from_deg=wind,
               system=snapshot.system), key="sketch")
    record.render_record(sealed, amended_by=[record.Amended.of(later)], paper="letter")  # bytes
    record.render_copy(sealed, deliveries=[record.Delivery(…)], paper="letter")
    notices.notice_before(source.Source(facts=snapshot, dated=now), paper="letter")
    notices.notice_completed(source.Source.of(sealed), paper="letter")
    posting.posting_sheet(source.Source.of(sealed), paper="letter")
    totals.render_totals(found, now=now, paper="letter")  # found: records.totals.Totals

`to_svg` gives safe HTML with a title and a description; `key` is unique on the page. The page links
the static file `documents/drawing.css`; nothing is styled inline. A nozzle without a rig is drawn
from a `window.Window` with `ran_at=None`.

Modules, from the bottom: `drawing` (primitives, hatching, labels that keep apart), `strip`,
`window`, `sketch`, `marks` (layouts), `svg` and `paint` (the two ways out), `typeface` (the paper's
type), `page` (pages that fill), `ledger` (facts with marks beside them), `words` (how paper writes
the lines of `sections.lines`), `duties` (what the law asks and where it stands), `sections`
and `record` (the signed record and the customer's copy), `source`, `notices`, `posting` and
`totals` (the other papers), `file` (head, foot and bytes of each).
"""
