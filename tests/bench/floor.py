"""The floor of the lists' bench: a plain table, paged by REST framework's cursor, open to all.

No login, no middleware, no join: the line of the book lies ready made in the table.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.urls import path
from rest_framework.generics import ListAPIView
from rest_framework.pagination import CursorPagination
from rest_framework.serializers import ModelSerializer


class Plain(models.Model):
    id = models.UUIDField(primary_key=True)
    state = models.CharField(max_length=10)
    revision = models.IntegerField()
    number = models.IntegerField(null=True)
    customer = models.UUIDField(null=True)
    customer_name = models.CharField(max_length=200, null=True)  # noqa: DJ001
    field = models.UUIDField(null=True)
    field_name = models.CharField(max_length=200, null=True)  # noqa: DJ001
    crop = models.CharField(max_length=200, null=True)  # noqa: DJ001
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    time_zone = models.CharField(max_length=60)
    products = models.CharField(max_length=400)
    amends = models.UUIDField(null=True)
    superseded_by = models.IntegerField(null=True)
    created_at = models.DateTimeField()

    class Meta:
        managed = False
        db_table = "bench_plain"
        app_label = "records"

    def __str__(self) -> str:
        return self.field_name or ""


class PlainSerializer(ModelSerializer):
    class Meta:
        model = Plain
        fields = "__all__"


class Newest(CursorPagination):
    page_size = 50
    ordering = ("-created_at", "-id")


class PlainList(ListAPIView):
    queryset = Plain.objects.all()
    serializer_class = PlainSerializer
    pagination_class = Newest
    authentication_classes: ClassVar = []
    permission_classes: ClassVar = []


urlpatterns = [path("plain/", PlainList.as_view())]
