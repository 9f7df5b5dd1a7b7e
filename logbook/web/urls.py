"""Addresses of the pages, by the questions a person asks: Today, Book, Plan, Season, Shelf."""

from django.urls import include, path

from logbook.web import access, audit, pages, papers, today, tokens
from logbook.web.book import lists, pictures, work
from logbook.web.book import views as book
from logbook.web.duties import views as duties
from logbook.web.language import language

urlpatterns = [
    path("", include("logbook.web.gate.urls")),
    path("you/language/", language, name="language"),
    path("", today.today, name="today"),
    path("job/start/", work.start, name="today-start"),
    path("job/fields/", work.fields, name="today-fields"),
    path("job/jobs/", work.jobs, name="today-jobs"),
    path("job/<uuid:record_id>/", work.running, name="today-running"),
    path("job/<uuid:record_id>/stop/", work.stop, name="today-stop"),
    path("book/", lists.book, name="book"),
    path("book/narrow/", lists.narrow, name="book-narrow"),
    path("book/list.csv", lists.as_csv, name="book-csv"),
    path("book/list.xlsx", lists.as_xlsx, name="book-xlsx"),
    path("book/print/", lists.prints, name="book-print"),
    path("book/print.pdf", lists.print_pdf, name="book-print-pdf"),
    path("book/new/", book.new, name="record-new"),
    path("book/<uuid:record_id>/", book.record, name="record"),
    path("book/<uuid:record_id>/edit/", book.edit, name="record-edit"),
    path("book/<uuid:record_id>/check/", book.check, name="record-check"),
    path("book/<uuid:record_id>/sign/", book.sign_record, name="record-sign"),
    path("book/<uuid:record_id>/sign/passkey/", book.sign_passkey, name="record-sign-passkey"),
    path("book/<uuid:record_id>/wind/", work.wind, name="record-wind"),
    path("book/<uuid:record_id>/pictures/", pictures.pictures, name="record-pictures"),
    path(
        "book/<uuid:record_id>/pictures/<uuid:picture_id>.jpg",
        pictures.picture,
        name="record-picture",
    ),
    path(
        "book/<uuid:record_id>/pictures/<uuid:picture_id>/delete/",
        pictures.remove,
        name="record-picture-remove",
    ),
    path("book/<uuid:record_id>/like/", book.like, name="record-like"),
    path("book/<uuid:record_id>/aside/", book.aside, name="record-aside"),
    path("book/<uuid:record_id>/back/", book.back, name="record-back"),
    path("book/<uuid:record_id>/amend/", book.amend, name="record-amend"),
    path("book/<uuid:record_id>/record.pdf", book.pdf, name="record-pdf"),
    path("book/<uuid:record_id>/duties/", duties.record_duties, name="record-duties"),
    path(
        "book/<uuid:record_id>/duties/<uuid:entry_id>/strike/",
        duties.strike,
        name="record-duty-strike",
    ),
    path("book/<uuid:record_id>/resume/", duties.resume, name="record-resume"),
    path("book/<uuid:record_id>/purge/", duties.purge_record, name="record-purge"),
    path("deadlines/", duties.deadlines, name="deadlines"),
    path("deadlines/feed/", duties.feed, name="deadlines-feed"),
    path("deadlines/<str:token>.ics", duties.ics, name="deadlines-ics"),
    path("keeping/", duties.keeping, name="keeping"),
    path("keeping/hold/", duties.hold, name="keeping-hold"),
    path("keeping/holds/<uuid:hold_id>/lift/", duties.lift, name="keeping-lift"),
    path("plan/", pages.plan, name="plan"),
    path("season/", pages.season, name="season"),
    path("season/list.csv", pages.season_file, {"ending": "csv"}, name="season-csv"),
    path("season/list.xlsx", pages.season_file, {"ending": "xlsx"}, name="season-xlsx"),
    path("shelf/", include("logbook.web.catalog.urls")),
    *papers.urlpatterns,
    *audit.urlpatterns,
    *access.urlpatterns,
    *tokens.urlpatterns,
    path("exchange/", include("logbook.web.exchange")),
]
