"""Addresses of the pages, by the questions a person asks: Today, Book, Plan, Season, Shelf."""

from django.contrib.auth import views as auth
from django.urls import include, path

from logbook.web import pages, papers, tokens
from logbook.web.book import views as book
from logbook.web.duties import views as duties

urlpatterns = [
    path("login/", auth.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
    path("", pages.today, name="today"),
    path("book/", book.book, name="book"),
    path("book/new/", book.new, name="record-new"),
    path("book/<uuid:record_id>/", book.record, name="record"),
    path("book/<uuid:record_id>/edit/", book.edit, name="record-edit"),
    path("book/<uuid:record_id>/check/", book.check, name="record-check"),
    path("book/<uuid:record_id>/sign/", book.sign_record, name="record-sign"),
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
    path("shelf/", include("logbook.web.shelf.urls")),
    *papers.urlpatterns,
    *tokens.urlpatterns,
    path("exchange/", include("logbook.web.exchange")),
]
