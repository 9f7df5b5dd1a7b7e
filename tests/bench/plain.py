"""The service's addresses, and beside them one plain Django view: the floor of the API's bench."""

from __future__ import annotations

import json

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, JsonResponse
from django.urls import include, path
from django.views.decorators.csrf import csrf_exempt


@csrf_exempt
@login_not_required
def plain(request: HttpRequest) -> JsonResponse:
    """Read the same JSON, and answer as much of it as the rate check does."""
    asked = json.loads(request.body)
    return JsonResponse({"results": [dict.fromkeys("abcdefghi", 1.0)], "asked": asked})


urlpatterns = [path("plain/", plain), path("", include("logbook.config.urls"))]
