"""Addresses of the API, version 1."""

from django.urls import URLPattern, path, re_path

from logbook.accounts.rights import Right
from logbook.api.serializers.catalog import KINDS
from logbook.api.views import catalog as shelf
from logbook.api.views import duties, log, pictures, planning, public, records
from logbook.documents.papers import PAPERS


def _shelf(kind: str) -> list[URLPattern]:
    about = {
        "shelf": kind,
        "serializer_class": KINDS[kind],
        "right_to_write": Right.PEOPLE if kind == "people" else Right.SHELF,
    }
    return [
        path(f"shelf/{kind}/", shelf.ShelfList.as_view(**about), name=f"api-{kind}"),
        path(
            f"shelf/{kind}/<uuid:row_id>/",
            shelf.ShelfItem.as_view(**about),
            name=f"api-{kind}-item",
        ),
    ]


urlpatterns = [
    path("", public.reference, name="api"),
    path("schema/", public.SchemaView.as_view(), name="api-schema"),
    path("rate-check/", planning.RateCheck.as_view(), name="api-rate-check"),
    path("nozzle-choice/", planning.NozzleChoice.as_view(), name="api-nozzle-choice"),
    path("records/", records.RecordList.as_view(), name="api-records"),
    path("records/<uuid:record_id>/", records.RecordItem.as_view(), name="api-record"),
    path("records/<uuid:record_id>/check/", records.RecordCheck.as_view(), name="api-record-check"),
    path("records/<uuid:record_id>/sign/", records.RecordSign.as_view(), name="api-record-sign"),
    path("records/<uuid:record_id>/amend/", records.RecordAmend.as_view(), name="api-record-amend"),
    path("records/<uuid:record_id>/seal/", records.RecordSeal.as_view(), name="api-record-seal"),
    path("records/<uuid:record_id>/record.pdf", records.RecordPdf.as_view(), name="api-record-pdf"),
    path(
        "records/<uuid:record_id>/pictures/",
        pictures.RecordPictures.as_view(),
        name="api-record-pictures",
    ),
    path(
        "records/<uuid:record_id>/pictures/<uuid:picture_id>.jpg",
        pictures.RecordPicture.as_view(),
        name="api-record-picture",
    ),
    path(
        "records/<uuid:record_id>/duties/", duties.RecordDuties.as_view(), name="api-record-duties"
    ),
    path(
        "records/<uuid:record_id>/duty-entries/",
        duties.DutyEntryList.as_view(),
        name="api-duty-entries",
    ),
    path(
        "records/<uuid:record_id>/duty-entries/<uuid:entry_id>/strike/",
        duties.DutyEntryStrike.as_view(),
        name="api-duty-entry-strike",
    ),
    *(
        path(
            f"records/<uuid:record_id>/papers/{name}.pdf",
            duties.RecordPaper.as_view(paper=name),
            name=f"api-paper-{name}",
        )
        for name in PAPERS
    ),
    path("deadlines/", duties.Deadlines.as_view(), name="api-deadlines"),
    path("deadlines/reports/", duties.PeriodReports.as_view(), name="api-period-reports"),
    path("totals/", duties.ProductTotals.as_view(), name="api-totals"),
    path("export/records.json", duties.ExportJson.as_view(), name="api-export-json"),
    path("export/records.csv", duties.ExportCsv.as_view(), name="api-export-csv"),
    path("seals/", log.SealList.as_view(), name="api-seals"),
    path("log/verify/", log.LogVerify.as_view(), name="api-log-verify"),
    path("season/", log.Season.as_view(), name="api-season"),
    path("shelf/history/", shelf.ShelfHistory.as_view(), name="api-shelf-history"),
    *(address for kind in KINDS for address in _shelf(kind)),
    re_path("", public.NothingHere.as_view()),
]
