"""Pictures of a record: put to a draft, shown to whoever may read the record, taken off again."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from logbook.accounts.rights import Right
from logbook.errors.exceptions import RefusedInput
from logbook.readers import MAX_PICTURE_BYTES
from logbook.records.reading import selectors
from logbook.records.sealing.snapshot import picture_facts
from logbook.records.writing.draft import why_closed
from logbook.records.writing.pictureforms import PictureForm
from logbook.records.writing.pictures import MOST, add_picture, remove_picture
from logbook.web.viewbase import BookRequest, front_door


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.DRAFT)
def pictures(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """The pictures of a draft, and the form that puts another to it."""
    row = selectors.existing(actor=request.actor, record_id=record_id)
    if why := why_closed(row):
        messages.error(request, why)
        return redirect("record", record_id)
    # The page brings the id, so that a double click puts one picture.
    form = PictureForm(request.POST or None, request.FILES or None, initial={"id": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        words = form.cleaned_data
        try:
            add_picture(
                actor=request.actor,
                record_id=record_id,
                picture_id=words["id"],
                shows=words["shows"],
                caption=words["caption"],
                raw=words["file"].read(),
                keep_time_and_place=words["keep_time_and_place"],
                now=timezone.now(),
            )
        except RefusedInput as refusal:
            form.take(refusal)
        else:
            messages.success(request, _("The picture is put to the record."))
            return redirect("record-pictures", record_id)
    context = {
        "record": row,
        "pictures": [picture_facts(one) for one in row.pictures.all()],
        "form": form,
        "most": MOST,
        "most_megabytes": MAX_PICTURE_BYTES // 1_000_000,
    }
    return render(request, "book/pictures.html", context, status=422 if form.errors else 200)


@require_safe
@front_door(Right.READ)
def picture(request: BookRequest, record_id: uuid.UUID, picture_id: uuid.UUID) -> HttpResponse:
    """The stored picture, as it was made anew when it was put to the record."""
    jpeg = selectors.picture(actor=request.actor, record_id=record_id, picture_id=picture_id)
    answer = HttpResponse(jpeg, content_type="image/jpeg")
    answer["Content-Disposition"] = f'inline; filename="picture-{picture_id}.jpg"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@require_POST
@front_door(Right.DRAFT)
def remove(request: BookRequest, record_id: uuid.UUID, picture_id: uuid.UUID) -> HttpResponse:
    """Take a picture from a draft."""
    remove_picture(actor=request.actor, record_id=record_id, picture_id=picture_id)
    messages.success(request, _("The picture is deleted."))
    return redirect("record-pictures", record_id)
