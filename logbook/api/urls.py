"""Addresses of the API, version 1."""

from django.urls import URLPattern, path, re_path

from logbook.accounts.rights import Right
from logbook.api.serializers.shelf import KINDS
from logbook.api.views import log, planning, public, records, shelf


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
    path("seals/", log.SealList.as_view(), name="api-seals"),
    path("log/verify/", log.LogVerify.as_view(), name="api-log-verify"),
    path("season/", log.Season.as_view(), name="api-season"),
    *(address for kind in KINDS for address in _shelf(kind)),
    re_path("", public.NothingHere.as_view()),
]
