"""Pictures as evidence: made anew, sealed by digest, frozen, printed, verified and let go."""

from __future__ import annotations

import io
import json
import stat
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import DatabaseError, transaction
from PIL import Image
from pypdf import PdfReader

from logbook.accounts.models import JournalEntry
from logbook.documents.record import render_record
from logbook.errors.exceptions import Conflict, NotThere, RefusedInput
from logbook.readers import MAX_PICTURE_BYTES
from logbook.readers import pictures as reader
from logbook.records.models import Picture
from logbook.records.reading import selectors, verification
from logbook.records.reading.examine import examine
from logbook.records.sealing import pictures
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing import pictures as writing
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import Closed
from logbook.records.writing.pictures import add_picture, remove_picture
from logbook.records.writing.sign import fingerprint, sign
from logbook.uploads import read_confined
from tests.conftest import NOW, sealed_by
from tests.logbook.catalog.sheets.test_limits import measured
from tests.logbook.records.exchange import bring_in, exported, member_of_new_business
from tests.logbook.records.test_purge import let_go, old, seal_one  # noqa: F401
from tests.logbook.records.test_verify_log import triggers_off
from tests.pictures import MAKER, from_a_camera, picture

TAKEN, PLACE = "2026-06-12 09:31:05 -05:00", "47.10500, -97.19500"
"""Of `from_a_camera`: 47° 6′ 18″ N, 97° 11′ 42″ W (computed)."""


@pytest.fixture
def add(owner: Any, clean_draft: Any) -> Callable[..., Picture]:
    """Return what puts a picture to the clean draft."""

    def added(raw: bytes | None = None, **changes: Any) -> Picture:
        asked = {
            "actor": owner,
            "record_id": clean_draft.pk,
            "picture_id": uuid.uuid4(),
            "shows": "tank",
            "caption": "before the first load",
            "raw": raw or picture(),
            "keep_time_and_place": False,
            "now": NOW,
        }
        return add_picture(**(asked | changes))

    return added


def file_of(one: Picture) -> Path:
    return Path(settings.MEDIA_ROOT) / str(one.record.business_id) / f"{one.pk}.jpg"


def whole(owner: Any) -> str:
    """Return what verifying the log finds first, "" for nothing."""
    found = verification.verify(business=owner.business)
    return str(found.broken.why) if found.broken else ""


def drawn_in(pages: Any) -> list[Image.Image]:
    """Return the pictures of a paper; the code of the seal is drawn inline and is none."""
    return [
        drawn.get_object().decode_as_image()
        for page in pages
        for drawn in page["/Resources"].get("/XObject", {}).values()
    ]


class TestReader:
    def read(self, raw: bytes) -> tuple[Image.Image, bytes, dict[str, str]]:
        (found,) = reader.read_picture(raw)
        jpeg = reader_bytes(found)
        return Image.open(io.BytesIO(jpeg)), jpeg, found

    def test_nothing_of_what_the_camera_wrote_is_left_but_time_and_place_are_told(self) -> None:
        raw = from_a_camera()
        assert MAKER.encode() in raw
        shown, jpeg, found = self.read(raw)
        assert (found["taken"], found["place"]) == (TAKEN, PLACE)
        assert not shown.getexif()
        assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        for trace in (b"Exif", MAKER.encode(), b"Serial", b"2026:06"):
            assert trace not in jpeg

    def test_it_stands_upright(self) -> None:
        # Orientation 6: the first row of the file is the right side of the scene (Exif 2.32).
        shown, _jpeg, _found = self.read(from_a_camera())
        assert shown.size == (200, 320)
        assert shown.getpixel((150, 40))[2] > 200  # type: ignore[index]
        assert shown.getpixel((40, 40))[2] < 60  # type: ignore[index]

    @pytest.mark.parametrize("size", [(4000, 3000), (1601, 20), (1600, 1600), (40, 3000)])
    def test_its_longer_side_is_at_most_1600_pixels(self, size: tuple[int, int]) -> None:
        shown, _jpeg, _found = self.read(picture(size=size))
        assert max(shown.size) == min(1600, max(size))
        assert shown.width / shown.height == pytest.approx(size[0] / size[1], rel=0.05)

    @pytest.mark.parametrize(
        ("kind", "mode", "colour"),
        [
            ("PNG", "RGB", "olive"),
            ("PNG", "RGBA", (128, 128, 0, 255)),
            ("PNG", "P", 3),
            ("PNG", "I;16", 30_000),
            ("PNG", "1", 0),
            ("WEBP", "RGB", "olive"),
            ("MPO", "RGB", "olive"),  # a JPEG of a phone with further pictures behind it
            ("JPEG", "L", 90),
            ("JPEG", "CMYK", (0, 0, 200, 90)),
        ],
    )
    def test_each_kind_becomes_a_jpeg_in_colour(self, kind: str, mode: str, colour: Any) -> None:
        made = Image.new(mode, (60, 40), colour)
        out = io.BytesIO()
        made.save(out, kind)
        shown, _jpeg, found = self.read(out.getvalue())
        assert (shown.format, shown.mode, shown.size) == ("JPEG", "RGB", (60, 40))
        assert (found["taken"], found["place"]) == ("", "")

    def test_what_can_be_seen_through_stands_on_white(self) -> None:
        made = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
        out = io.BytesIO()
        made.save(out, "PNG")
        shown, _jpeg, _found = self.read(out.getvalue())
        assert shown.getpixel((10, 10)) == (255, 255, 255)

    def test_what_hangs_behind_the_picture_is_gone(self) -> None:
        _shown, jpeg, _found = self.read(picture() + b"<script>alert(1)</script>")
        assert b"script" not in jpeg

    @pytest.mark.parametrize(
        ("place", "expected"),
        [
            ({1: "S", 2: (47.0, 6.0, 18.0), 3: "E", 4: (97.0, 11.0, 42.0)}, "-47.10500, 97.19500"),
            ({1: "N", 2: (95.0, 0.0, 0.0), 3: "E", 4: (97.0, 0.0, 0.0)}, ""),
            ({1: "N", 2: (45.0, 0.0, 0.0)}, ""),
            ({1: "X", 2: (45.0, 0.0, 0.0), 3: "E", 4: (97.0, 0.0, 0.0)}, ""),
        ],
    )
    def test_a_place_is_told_only_where_it_is_one(self, place: Any, expected: str) -> None:
        exif = Image.Exif()
        exif.get_ifd(0x8825).update(place)
        _shown, _jpeg, found = self.read(picture(exif=exif))
        assert found["place"] == expected

    @pytest.mark.parametrize("said", ["0000:00:00", "2026-06-12 09:31:05", "yesterday", ""])
    def test_a_time_that_is_none_is_not_told(self, said: str) -> None:
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0x9003] = said
        _shown, _jpeg, found = self.read(picture(exif=exif))
        assert found["taken"] == ""


def reader_bytes(found: dict[str, str]) -> bytes:
    from base64 import b64decode

    return b64decode(found["jpeg"])


def torn() -> bytes:
    whole = picture(size=(800, 600), quality=95)
    return whole[: len(whole) // 2]


REFUSED = {
    "a text": (lambda: b"just words", "no picture that can be read"),
    "nothing": (lambda: b"", "no picture that can be read"),
    "a drawing": (lambda: b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture"),
    "a paper": (lambda: b"%PDF-1.7\n", "no picture"),
    "a GIF": (lambda: picture("GIF"), "JPEG, PNG and WebP"),
    "a TIFF": (lambda: picture("TIFF"), "JPEG, PNG and WebP"),
    "torn off": (torn, "damaged"),
    "too many bytes": (lambda: picture() + bytes(MAX_PICTURE_BYTES), "at most 15,000,000"),
    "too many pixels": (
        lambda: picture("PNG", mode="1", size=(4_000, 4_001), colour=0),
        "has 16,004,000 pixels; at most 16,000,000",
    ),
    "too many pixels of a JPEG": (
        lambda: picture(mode="L", size=(10_000, 5_001), colour=0),
        "has 50,010,000 pixels; at most 50,000,000",
    ),
}


@pytest.mark.parametrize(("made", "said"), REFUSED.values(), ids=REFUSED)
def test_what_is_no_picture_or_too_large_is_refused(
    add: Any, clean_draft: Any, made: Callable[[], bytes], said: str
) -> None:
    with pytest.raises(RefusedInput) as refusal:
        add(made() or b" ")
    assert said in refusal.value.errors["file"][0]
    assert not clean_draft.pictures.exists()
    clean_draft.refresh_from_db()
    assert clean_draft.revision == 2


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"shows": "sky"}, "shows"),
        ({"shows": ""}, "shows"),
        ({"caption": "x" * 201}, "caption"),
    ],
)
def test_what_it_shows_is_of_the_list_and_its_words_are_few(
    add: Any, clean_draft: Any, changes: dict[str, str], path: str
) -> None:
    with pytest.raises(RefusedInput) as refusal:
        add(**changes)
    assert set(refusal.value.errors) == {path}
    assert not clean_draft.pictures.exists()


class TestDraft:
    def test_it_is_stored_for_its_owner_alone_under_its_digest(
        self, add: Any, clean_draft: Any
    ) -> None:
        before = clean_draft.revision
        one = add(from_a_camera())
        path = file_of(one)
        assert pictures.digest_of(path.read_bytes()) == one.sha256
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
        assert (one.taken, one.place) == ("", "")
        clean_draft.refresh_from_db()
        assert clean_draft.revision == before + 1

    def test_time_and_place_are_kept_where_asked_and_not_in_the_file(self, add: Any) -> None:
        one = add(from_a_camera(), keep_time_and_place=True)
        assert (one.taken, one.place) == (TAKEN, PLACE)
        assert b"Exif" not in file_of(one).read_bytes()

    def test_asking_twice_puts_one_and_an_id_stands_for_one_picture(
        self, add: Any, clean_draft: Any
    ) -> None:
        one = add()
        assert add(picture_id=one.pk) == one
        for other in ({"caption": "another"}, {"raw": picture(colour="navy")}):
            with pytest.raises(Conflict):
                add(picture_id=one.pk, **other)
        assert clean_draft.pictures.count() == 1

    def test_a_record_takes_so_many(
        self, add: Any, clean_draft: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(writing, "MOST", 1)
        add()
        with pytest.raises(RefusedInput, match="at most 1 pictures"):
            add()
        assert clean_draft.pictures.count() == 1

    def test_it_is_removed_with_its_file(
        self, add: Any, owner: Any, clean_draft: Any, django_capture_on_commit_callbacks: Any
    ) -> None:
        one = add()
        path = file_of(one)
        with django_capture_on_commit_callbacks(execute=True):
            remove_picture(actor=owner, record_id=clean_draft.pk, picture_id=one.pk)
        assert not path.exists()
        with pytest.raises(NotThere):
            remove_picture(actor=owner, record_id=clean_draft.pk, picture_id=one.pk)

    def test_another_business_puts_none_removes_none_and_sees_none(
        self, add: Any, stranger: Any, clean_draft: Any
    ) -> None:
        one = add()
        with pytest.raises(NotThere):
            add(actor=stranger)
        with pytest.raises(NotThere):
            remove_picture(actor=stranger, record_id=clean_draft.pk, picture_id=one.pk)
        with pytest.raises(NotThere):
            selectors.picture(actor=stranger, record_id=clean_draft.pk, picture_id=one.pk)

    def test_who_looked_before_it_was_put_there_does_not_sign_it_unseen(
        self, add: Any, owner: Any, confirmed: Any, clean_draft: Any
    ) -> None:
        seen = examine(actor=owner, record_id=clean_draft.pk)
        add()
        asked = {"actor": owner, "record_id": clean_draft.pk, "explanations": {}, "now": NOW}
        asked["confirmation"] = confirmed(owner)
        with pytest.raises(Conflict):
            sign(**asked, revision=seen.record.revision)
        clean_draft.refresh_from_db()
        with pytest.raises(Conflict):
            sign(**asked, revision=clean_draft.revision, shown=fingerprint(seen))


class TestSealed:
    @pytest.fixture
    def one(self, add: Any, owner: Any, clean_draft: Any) -> Picture:
        """A picture of a sealed record."""
        made = add(from_a_camera(size=(640, 400)), keep_time_and_place=True)
        sealed_by(owner, clean_draft)
        made.refresh_from_db()
        return made

    def test_the_seal_holds_its_digest_and_what_it_shows(self, one: Picture, owner: Any) -> None:
        seal = selectors.seal_of(actor=owner, record_id=one.record_id)
        assert json.loads(seal.text)["facts"]["pictures"] == [
            {
                "id": str(one.pk),
                "shows": "tank",
                "caption": "before the first load",
                "sha256": pictures.digest_of(file_of(one).read_bytes()),
                "taken": TAKEN,
                "place": PLACE,
            }
        ]
        assert whole(owner) == ""

    def test_a_seal_of_before_there_were_pictures_is_read(self, signed: Any, owner: Any) -> None:
        seal = selectors.seal_of(actor=owner, record_id=signed.pk)
        content = json.loads(seal.text)
        del content["facts"]["pictures"]
        seal.text = json.dumps(content)
        assert read_seal(seal).snapshot.pictures == ()

    def test_it_is_frozen(self, one: Picture, add: Any, owner: Any) -> None:
        with pytest.raises(Closed):
            add()
        with pytest.raises(Closed):
            remove_picture(actor=owner, record_id=one.record_id, picture_id=one.pk)
        rows = Picture.objects.filter(pk=one.pk)
        deeds: list[Callable[[], Any]] = [
            lambda: rows.update(caption="another"),
            lambda: rows.update(sha256="0" * 64),
            rows.delete,
            lambda: Picture.objects.create(
                record=one.record, shows="tank", sha256="1", added_by=owner.user, added_at=NOW
            ),
        ]
        for deed in deeds:
            with pytest.raises(DatabaseError, match="cannot be"), transaction.atomic():
                deed()
        assert file_of(one).exists()

    def test_verifying_compares_the_stored_bytes(self, one: Picture, owner: Any) -> None:
        path = file_of(one)
        jpeg = path.read_bytes()
        path.write_bytes(jpeg[:-1] + b"\0")
        assert whole(owner) == "its picture 1 is not the one that was sealed"
        with pytest.raises(NotThere, match="gone or was changed"):
            selectors.picture(actor=owner, record_id=one.record_id, picture_id=one.pk)
        path.unlink()
        assert whole(owner) == "its picture 1 is gone"
        path.write_bytes(jpeg)
        assert whole(owner) == ""

    @pytest.mark.parametrize(
        ("changes", "said"),
        [
            ({"caption": "another"}, "its text: pictures"),
            ({"sha256": "0" * 64}, "its text: pictures"),
            ({"added_at": datetime(2020, 1, 1, tzinfo=UTC)}, "the journal: pictures"),
        ],
    )
    def test_verifying_compares_the_row(
        self, one: Picture, owner: Any, changes: dict[str, Any], said: str
    ) -> None:
        with triggers_off():
            Picture.objects.filter(pk=one.pk).update(**changes)
        assert whole(owner).endswith(said)

    def test_verifying_misses_a_row_that_was_deleted(self, one: Picture, owner: Any) -> None:
        with triggers_off():
            Picture.objects.filter(pk=one.pk).delete()
        assert "pictures" in whole(owner)

    def test_the_paper_shows_it_small_with_its_digest(self, one: Picture, owner: Any) -> None:
        sealed = read_seal(selectors.seal_of(actor=owner, record_id=one.record_id))
        paper = render_record(sealed)
        assert paper == render_record(sealed)
        pages = PdfReader(io.BytesIO(paper)).pages
        text = " ".join(page.extract_text() for page in pages)
        for said in ("Annex: pictures", "tank: before the first load", one.sha256, TAKEN, PLACE):
            assert said in text
        (shown,) = drawn_in(pages)
        # Upright, so the white quarter of `picture` stands at the right.
        assert shown.size == (400, 640)
        assert min(shown.convert("RGB").getpixel((300, 100))) > 200  # type: ignore[type-var,arg-type]

    def test_the_paper_says_that_a_picture_is_lost(self, one: Picture, owner: Any) -> None:
        file_of(one).unlink()
        sealed = read_seal(selectors.seal_of(actor=owner, record_id=one.record_id))
        pages = PdfReader(io.BytesIO(render_record(sealed))).pages
        assert "is gone or is not the one that was sealed" in pages[-1].extract_text()
        assert not drawn_in(pages)

    def test_a_record_without_pictures_has_no_annex(self, signed: Any, owner: Any) -> None:
        sealed = read_seal(selectors.seal_of(actor=owner, record_id=signed.pk))
        pages = PdfReader(io.BytesIO(render_record(sealed))).pages
        assert "Annex" not in " ".join(page.extract_text() for page in pages)

    def test_the_file_of_records_holds_its_digest_and_an_import_says_that_it_is_not_there(
        self, one: Picture, owner: Any
    ) -> None:
        file = exported(owner)
        (stated,) = file["records"][0]["facts"]["pictures"]
        assert stated["sha256"] == one.sha256
        (outcome,) = bring_in(member_of_new_business(), file).outcomes
        lost = [str(line) for line in outcome.differs if "icture 1" in line]
        assert any(one.sha256 in line for line in lost)

    def test_an_amendment_gets_copies_and_may_let_them_go(
        self, one: Picture, owner: Any, django_capture_on_commit_callbacks: Any
    ) -> None:
        draft = begin_amendment(
            actor=owner, record_id=one.record_id, new_id=uuid.uuid4(), reason="wrong pressure"
        )
        copy = draft.pictures.get()
        same = ("shows", "caption", "sha256", "taken", "place", "added_by", "added_at")
        assert all(getattr(copy, name) == getattr(one, name) for name in same)
        assert copy.pk != one.pk
        assert file_of(copy).read_bytes() == file_of(one).read_bytes()
        with django_capture_on_commit_callbacks(execute=True):
            remove_picture(actor=owner, record_id=draft.pk, picture_id=copy.pk)
        assert file_of(one).exists()
        sealed_by(owner, draft, explained="It was so.")
        seal = selectors.seal_of(actor=owner, record_id=draft.pk)
        assert any(
            "icture 1, what it shows: tank, now blank" in change
            for change in json.loads(seal.text)["facts"]["amends"]["changes"]
        )
        assert whole(owner) == ""


@pytest.mark.usefixtures("in_iowa")
class TestPurge:
    def test_it_goes_with_the_record_and_its_digest_stays(
        self,
        owner: Any,
        seal_one: Any,  # noqa: F811
        let_go: Any,  # noqa: F811
        monkeypatch: pytest.MonkeyPatch,
        django_capture_on_commit_callbacks: Any,
    ) -> None:
        put: list[Picture] = []

        def looked_at(*, actor: Any, record_id: Any) -> Any:
            # Between the saving and the signing of `seal_one`.
            put.append(
                add_picture(
                    actor=actor,
                    record_id=record_id,
                    picture_id=uuid.uuid4(),
                    shows="field",
                    caption="",
                    raw=picture(),
                    keep_time_and_place=False,
                    now=NOW,
                )
            )
            return examine(actor=actor, record_id=record_id)

        monkeypatch.setattr("tests.logbook.records.test_purge.examine", looked_at)
        monkeypatch.setattr(
            "tests.logbook.records.test_purge.sign",
            lambda **asked: sign(**{**asked, "revision": asked["revision"] + 1}),
        )
        seal = seal_one()
        (one,) = put
        path, jpeg = file_of(one), file_of(one).read_bytes()
        with django_capture_on_commit_callbacks(execute=True):
            let_go(seal)
        assert not path.exists()
        assert not Picture.objects.exists()
        (entry,) = JournalEntry.objects.filter(kind="seal", row_id=seal.pk)
        (beside,) = json.loads(entry.text)["beside"]["pictures"]
        assert beside["sha256"] == one.sha256
        assert whole(owner) == ""
        path.write_bytes(jpeg)
        assert whole(owner) == "it was purged, and its picture 1 is still stored"


def test_the_confined_process_reads_as_the_reader_does() -> None:
    (confined,) = read_confined("picture", from_a_camera())
    (direct,) = reader.read_picture(from_a_camera())
    assert confined == direct


def noise(size: tuple[int, int]) -> Image.Image:
    """Return a picture that does not compress, of the same noise in each tile."""
    tile = Image.effect_noise((500, 500), 90).convert("RGB")
    made = Image.new("RGB", size)
    for left in range(0, size[0], 500):
        for top in range(0, size[1], 500):
            made.paste(tile, (left, top))
    return made


@pytest.mark.parametrize(
    ("kind", "mode", "options"),
    [
        ("JPEG", "RGB", {"progressive": True, "subsampling": 0, "quality": 20}),
        ("PNG", "RGBA", {"compress_level": 1}),
    ],
)
def test_a_picture_at_its_limit_of_pixels_is_read_in_400_mb_and_6_s(
    kind: str, mode: str, options: dict[str, Any], tmp_path: Path
) -> None:
    """What the process may take is 600 MB of addresses and 10 s; see `test_limits`."""
    out = io.BytesIO()
    made = noise((8000, 6250)) if kind == "JPEG" else Image.new("RGB", (4000, 4000), "olive")
    made.convert(mode).save(out, kind, **options)
    raw = out.getvalue()
    assert len(raw) < MAX_PICTURE_BYTES
    _end, before, _seconds = measured("picture", picture(), tmp_path)
    end, memory, seconds = measured("picture", raw, tmp_path)
    print(f"\n{kind}: {len(raw):,} bytes, {memory - before:.0f} MB, {seconds:.1f} s")
    assert end.strip() == '{"end": true}'
    assert memory - before < 400
    assert seconds < 6
