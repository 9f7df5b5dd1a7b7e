"""`export_records` and `import_records`: the same at the command line."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from logbook.records.exchange import schema
from logbook.records.models import ApplicationRecord
from tests import factories as make
from tests.logbook.records.exchange import exported_csv, member_of_new_business, unsealed


def said(*args: str) -> tuple[str, str]:
    """Return what a command writes to standard output and to standard error."""
    out, err = io.StringIO(), io.StringIO()
    call_command(*args, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


class TestExport:
    def test_the_schema_is_printed_as_it_is_published(self) -> None:
        assert said("export_records", "--schema")[0] == schema.FILE.read_text(encoding="utf-8")

    def test_json_goes_to_standard_output(self, owner: Any, signed: Any) -> None:
        file = json.loads(said("export_records", "--as", owner.user.email)[0])
        assert [record["id"] for record in file["records"]] == [str(signed.pk)]
        assert file["$schema"] == "records.schema.json"

    def test_csv_goes_to_a_file(self, owner: Any, signed: Any, tmp_path: Path) -> None:
        path = tmp_path / "records.csv"
        args = ("--as", owner.user.email, "--format", "csv", "--output", str(path))
        assert said("export_records", *args)[0] == ""
        assert path.read_bytes().decode() == exported_csv(owner)

    def test_it_is_narrowed(self, owner: Any, signed: Any, yard: Any) -> None:
        def count(*args: str) -> int:
            out, _ = said("export_records", "--as", owner.user.email, *args)
            return len(json.loads(out)["records"])

        assert count("--from", "2026-06-12", "--to", "2026-06-12") == 1
        assert count("--from", "2026-06-13") == 0
        assert count("--customer", str(yard.customer.pk), "--field", str(yard.field.pk)) == 1

    def test_a_period_upside_down_is_refused(self, owner: Any) -> None:
        with pytest.raises(CommandError, match="before it begins"):
            said(
                *("export_records", "--as", owner.user.email),
                *("--from", "2026-06-13", "--to", "2026-06-12"),
            )

    def test_it_needs_a_member_of_the_business(self, owner: Any, other_business: Any) -> None:
        with pytest.raises(CommandError, match="Say with --as which login exports"):
            said("export_records")
        with pytest.raises(CommandError, match="There is no member nobody@example"):
            said("export_records", "--as", "nobody@example.test")
        with pytest.raises(CommandError, match="There is no member"):
            said(
                *("export_records", "--as", owner.user.email),
                *("--business", str(other_business.pk)),
            )


class TestImport:
    @pytest.fixture
    def path(self, owner: Any, signed: Any, tmp_path: Path) -> Path:
        path = tmp_path / "records.json"
        said("export_records", "--as", owner.user.email, "--output", str(path))
        return path

    def test_a_dry_run_tells_and_writes_nothing(self, path: Path) -> None:
        newcomer = member_of_new_business()
        out, _ = said("import_records", str(path), "--as", newcomer.user.email)
        assert "no. 1, North L, 2026-06-12: new draft" in out
        assert "fields: 0 found, 1 new" in out
        assert "1 new draft, 0 there already, 0 left out" in out
        assert out.endswith("Dry run; nothing was written.\n")
        assert not ApplicationRecord.objects.within(newcomer.business).exists()

    def test_told_to_it_writes_and_the_second_time_finds_all(self, path: Path) -> None:
        newcomer = member_of_new_business()
        args = ("import_records", str(path), "--as", newcomer.user.email, "--write")
        assert said(*args)[0].endswith("Written.\n")
        out, _ = said(*args)
        assert "no. 1, North L, 2026-06-12: there already, as a draft" in out

    def test_differences_and_unknown_members_are_told(self, path: Path) -> None:
        newcomer = member_of_new_business()
        file = unsealed(json.loads(path.read_text()))
        file["mood"] = "good"
        path.write_text(json.dumps(file))
        plate = file["records"][0]["facts"]["rig"]["plate"]
        make.RigFactory(business=newcomer.business, plate=plate, tank=make.q("500 gal"))
        out, _ = said("import_records", str(path), "--as", newcomer.user.email)
        assert "not known here, passed over: $.mood" in out
        assert "    differs: Rig, tank: " in out

    def test_bad_places_are_told_and_the_command_fails(self, path: Path) -> None:
        newcomer = member_of_new_business()
        file = unsealed(json.loads(path.read_text()))
        file["records"][0]["facts"]["record"]["speed"] = 3
        path.write_text(json.dumps(file))
        err = io.StringIO()
        with pytest.raises(CommandError, match="1 places cannot be taken; nothing was written"):
            call_command(
                *("import_records", str(path), "--as", newcomer.user.email, "--write"), stderr=err
            )
        assert err.getvalue().startswith("$.records[0].facts.record.speed: 3: a quantity")

    def test_what_is_no_file_of_records_is_refused(self, tmp_path: Path, owner: Any) -> None:
        path = tmp_path / "other.json"
        path.write_text("{}")
        with pytest.raises(CommandError, match="This is not a file of records"):
            said("import_records", str(path), "--as", owner.user.email)
        with pytest.raises(CommandError, match="No such file"):
            said("import_records", str(tmp_path / "nowhere"), "--as", owner.user.email)
