"""Pages by cursor: page 20,000 costs what page 1 costs."""

from rest_framework.pagination import CursorPagination


class ByCursor(CursorPagination):
    """Newest first; the cursor is opaque and the links say where to go on."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
    ordering = ("-created_at", "-id")
