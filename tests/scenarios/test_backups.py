"""A backup holds one moment of the whole book; a restore puts all of it in place, or nothing."""

from __future__ import annotations

import datetime as dt
import json
import stat
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError
from django.test import Client
from django.utils import timezone

from scheduling import guards
from scheduling.models import (
    Lease,
    Message,
    Occupancy,
    OtherCalendar,
    RepeatedRequest,
    Revision,
    Session,
    Tick,
)
from scheduling.services.backups import restoring, tables
from scheduling.services.messages import tell
from scheduling.services.other_calendars import content_of, remove
from scheduling.services.refills import record_refill
from scheduling.services.rounds import make_rounds
from studios.models import Person, Pot, Studio
from tests.invariants import broken
from tests.other_process import environment
from tests.scenarios.backups import digests, everything, fresh_sqlite, manage, rewritten, rows_of
from tests.scenarios.test_any_order import Anyhow
from tests.scenarios.test_kept import around, assert_alike
from tests.services.other_calendars import by_file, event
from tests.services.test_guards import occupy
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)
Writer = subprocess.Popen[str]


@pytest.fixture
def full(transactional_db: None) -> Town:
    """The town in committed rows, after some days of booking, calling off and breaking."""
    town = build_town()
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=150.0, floor_kg=40.0)
    oxygen = town.supplies["oxygen"]
    oxygen.content, oxygen.floor, oxygen.change_over = 20000.0, 500.0, True
    oxygen.save()
    record_refill(actor=town.technician, supply=oxygen, at=local(-6, 9))
    somebody = Anyhow(town, 3)
    for _ in range(25):
        somebody.step()
    tell(person=town.student, subject="Grüße „aus“ dem Ofen", body="one\r\ntwo\t\u2028three")
    Tick.objects.create(
        studio=town.flame, duty="light", said="Light it", due_at=local(0, 9), ticked_by=town.technician
    )
    answer = {"deep": [1, 2.5, None, "ü"]}
    RepeatedRequest.objects.create(person=town.student, key="k", digest="d", status_code=201, body=answer)
    assert Session.objects.count() >= 3
    return town


@pytest.fixture
def backup(full: Town, tmp_path: Path) -> Path:
    return backed_up(tmp_path / "book.zip")


def backed_up(path: Path) -> Path:
    call_command("backup", path, stdout=StringIO())
    return path


def put_back(path: Path, **options: Any) -> str:
    """Restore a backup; what is said of it."""
    said = StringIO()
    call_command("restore", path, stdout=said, **options)
    return said.getvalue()


def spoil() -> None:
    """Somebody's slip: much of what was there is gone or different, and something is new."""
    for session in Session.objects.all()[:2]:
        session.delete()
    Occupancy.objects.all()[0].delete()
    Studio.objects.filter(slug="flame").update(name="Spoilt")
    Person.objects.create_user("new@town.example", "glass", name="New")


def test_what_was_backed_up_comes_back_row_by_row(full: Town, backup: Path, tmp_path: Path) -> None:
    before, counts = everything(), Revision.objects.count()
    spoil()
    assert everything() != before

    said = put_back(backup, replace=True)

    assert everything() == before
    assert broken(supplies=False) == []
    assert digests(backed_up(tmp_path / "again.zip")) == digests(backup)
    assert said.startswith(f"Restored {sum(map(len, before.values())) + counts} rows of ")


def test_a_backup_can_be_read_by_its_owner_only_and_is_never_written_over(backup: Path) -> None:
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    content = backup.read_bytes()

    with pytest.raises(CommandError, match="exists already"):
        backed_up(backup)

    assert backup.read_bytes() == content


def test_a_backup_that_breaks_off_leaves_no_file(
    full: Town, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def break_off(*_facts: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("scheduling.services.backups.archive.write", break_off)

    with pytest.raises(KeyboardInterrupt):
        backed_up(tmp_path / "book.zip")

    assert list(tmp_path.iterdir()) == []


def test_a_database_that_is_not_empty_is_replaced_only_on_demand(backup: Path) -> None:
    spoil()
    before = everything()

    with pytest.raises(CommandError, match=r"not empty\. Say --replace"):
        put_back(backup)

    assert everything() == before


def test_guards_and_counts_stand_and_the_book_goes_on(full: Town, backup: Path) -> None:
    spoil()

    put_back(backup, replace=True)

    assert guards.missing() == []
    before = {(row.kind, row.key): row.number for row in Revision.objects.all()}
    hold = Occupancy.objects.order_by("pk")[0]
    with pytest.raises(IntegrityError, match="lehrbook_equipment_once"):
        occupy(full, hold.equipment.name, hold.exclusive_from, place=hold.place)
    made = occupy(full, hold.equipment.name, local(40, 12))
    assert made.pk > hold.pk
    risen = Revision.objects.get(kind="equipment", key=hold.equipment_id).number
    assert risen == before["equipment", hold.equipment_id] + 1


def test_every_count_is_above_what_it_was_here_and_in_the_file(full: Town, backup: Path) -> None:
    filed = {(row["kind"], row["key"]): row["number"] for row in rows_of(backup, "scheduling_revision")}
    spoil()
    Revision.objects.filter(kind="equipment").update(number=1)
    Revision.objects.create(kind="equipment", key=10**6, number=70)
    here = {(row.kind, row.key): row.number for row in Revision.objects.all()}

    put_back(backup, replace=True)

    for (kind, key), number in (filed | here).items():
        risen = Revision.objects.get(kind=kind, key=key).number
        assert risen > max(number, filed.get((kind, key), 0), here.get((kind, key), 0))


def test_a_process_that_serves_reads_anew_what_another_has_restored(
    full: Town, backup: Path, tmp_path: Path
) -> None:
    around()
    spoil()
    kept_now, fresh = around()
    assert_alike(kept_now, fresh)
    (tmp_path / "data").mkdir()

    manage(environment(tmp_path / "data"), "restore", str(backup), "--replace")

    kept_again, fresh_again = around()
    assert_alike(kept_again, fresh_again)
    key = full.equipment["furnace"].pk
    assert kept_again is not kept_now
    assert len(list(kept_again.claims(key))) == Occupancy.objects.filter(equipment=key).count()


def test_everybody_is_signed_out_and_running_rounds_go_on(full: Town, backup: Path) -> None:
    client = Client()
    client.force_login(full.student)
    make_rounds()
    before = list(Lease.objects.values())

    put_back(backup, replace=True)

    assert client.get("/my-seats").status_code == 302
    assert list(Lease.objects.values()) == before


def test_it_goes_from_one_database_to_another_and_back(full: Town, backup: Path, tmp_path: Path) -> None:
    """On PostgreSQL: to SQLite and back."""
    elsewhere = fresh_sqlite(tmp_path / "elsewhere")
    manage(elsewhere, "restore", str(backup))
    manage(elsewhere, "backup", str(tmp_path / "elsewhere.zip"))
    before = everything()
    spoil()

    put_back(tmp_path / "elsewhere.zip", replace=True)

    assert digests(tmp_path / "elsewhere.zip") == digests(backup)
    assert everything() == before
    assert broken(supplies=False) == []


def test_a_file_that_is_damaged_anywhere_changes_nothing(backup: Path, tmp_path: Path) -> None:
    spoil()
    before, whole, hurt = everything(), backup.read_bytes(), tmp_path / "hurt.zip"
    places = [*range(0, len(whole), len(whole) // 60), len(whole) - 10]
    refused = 0
    for place in places:
        hurt.write_bytes(whole[:place] + bytes([whole[place] ^ 0x40]) + whole[place + 1 :])
        try:
            put_back(hurt, replace=True)
        except CommandError:
            refused += 1
            assert everything() == before
        else:
            # Some bytes of a ZIP mean nothing (times of its members): then all that is listed is whole.
            assert digests(hurt) == digests(backup)
            spoil()
            before = everything()
    assert refused > len(places) // 2
    hurt.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(CommandError, match="no backup, or it is damaged"):
        put_back(hurt, replace=True)


def migrated_further(manifest: dict[str, Any], _parts: dict[str, bytes]) -> None:
    manifest["migrations"].append("scheduling.9999_later")


def another_format(manifest: dict[str, Any], _parts: dict[str, bytes]) -> None:
    manifest["format"] = 2


def without_a_column(manifest: dict[str, Any], _parts: dict[str, bytes]) -> None:
    manifest["tables"]["studios_studio"]["columns"].pop()


def without_the_people(_manifest: dict[str, Any], parts: dict[str, bytes]) -> None:
    parts["tables/studios_person.jsonl"] = b""


def booked_twice(_manifest: dict[str, Any], parts: dict[str, bytes]) -> None:
    rows = [json.loads(line) for line in parts["tables/scheduling_occupancy.jsonl"].splitlines()]
    twin = [max(row[0] for row in rows) + 1, *rows[0][1:]]
    parts["tables/scheduling_occupancy.jsonl"] += json.dumps(twin).encode() + b"\n"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (migrated_further, r"another version.*scheduling\.9999_later \(only in the file\)"),
        (another_format, "has format 2"),
        (without_a_column, "other tables or columns"),
        (without_the_people, "contradicts itself"),
        (booked_twice, "scheduling_occupancy cannot be restored"),
    ],
)
def test_what_does_not_fit_is_refused_and_changes_nothing(
    backup: Path, tmp_path: Path, change: Any, sentence: str
) -> None:
    spoil()
    before, counts = everything(), list(Revision.objects.order_by("pk").values())
    other = rewritten(backup, tmp_path / "other.zip", change)

    with pytest.raises(CommandError, match=sentence):
        put_back(other, replace=True)

    assert everything() == before
    assert list(Revision.objects.order_by("pk").values()) == counts
    assert guards.missing() == []


def test_a_restore_that_breaks_off_changes_nothing(backup: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spoil()
    before = everything()

    def break_off(*_facts: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(restoring, "_raise_counts", break_off)
    with pytest.raises(KeyboardInterrupt):
        put_back(backup, replace=True)

    assert everything() == before
    assert guards.missing() == []


@pytest.mark.parametrize("name", ["nowhere/book.zip", "no-backup.zip"])
def test_what_is_no_file_or_no_backup_is_refused_in_a_sentence(full: Town, tmp_path: Path, name: str) -> None:
    (tmp_path / "no-backup.zip").write_text("a shopping list")

    with pytest.raises(CommandError, match=r"cannot be read|is no backup"):
        put_back(tmp_path / name)
    with pytest.raises(CommandError, match=r"cannot be written|exists already"):
        backed_up(tmp_path / name)


def test_every_table_is_kept_but_those_of_processes() -> None:
    left_out = {table.name for table in tables.emptied()} - {table.name for table in tables.kept()}

    assert left_out == {"django_session", "scheduling_feedcopy"}
    assert "scheduling_lease" not in {table.name for table in tables.emptied()}
    assert {"studios_membership", "scheduling_course_studios"} <= {table.name for table in tables.kept()}


PATIENCE_S = 90
WRITING = """
from scheduling.models import Message, RepeatedRequest
from scheduling.services.transactions import one_write
from studios.models import Person
person, number = Person.objects.get(email="student@town.example"), 0

@one_write
def write():
    RepeatedRequest.objects.create(person=person, key=f"pair {number}", digest="")
    Message.objects.create(person=person, subject=f"pair {number}", body="")

print("begins", flush=True)
while number < 20000:
    write()
    number += 1
"""


@pytest.fixture
def writer(full: Town, tmp_path: Path) -> Iterator[Writer]:
    """Somebody who writes all the time, always a message and a request in one transaction."""
    (tmp_path / "writer").mkdir()
    with subprocess.Popen(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", WRITING],
        env=environment(tmp_path / "writer"),
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "begins\n"
        yield process
        process.kill()


def end(writer: Writer) -> None:
    """Ends the writer, who must still have been at it."""
    assert writer.poll() is None
    writer.kill()


def wait_for_a_pair() -> None:
    """Until the writer has written again, however busy the machine is."""
    deadline = time.monotonic() + PATIENCE_S
    while not pairs(Message.objects.values_list("subject", flat=True)):
        assert time.monotonic() < deadline, "the writer writes no more"
        time.sleep(0.1)


def pairs(names: Iterable[str]) -> list[str]:
    return sorted(name for name in names if name.startswith("pair "))


def test_it_holds_one_moment_while_others_write_and_nobody_waits_for_it(
    full: Town, writer: Writer, tmp_path: Path
) -> None:
    old = (Message(person=full.student, subject="old", body="x" * 200) for _ in range(5000))
    Message.objects.bulk_create(old)
    written = []
    for number in range(4):
        before = RepeatedRequest.objects.count()
        path = backed_up(tmp_path / f"{number}.zip")
        written.append(RepeatedRequest.objects.count() - before)
        messages = pairs(row["subject"] for row in rows_of(path, "scheduling_message"))
        assert messages == pairs(row["key"] for row in rows_of(path, "scheduling_repeatedrequest"))

    assert min(written) >= 1
    end(writer)


def test_whoever_writes_while_it_is_restored_waits_and_fails_at_nothing(backup: Path, writer: Writer) -> None:
    for _ in range(4):
        put_back(backup, replace=True)
        wait_for_a_pair()

    end(writer)
    messages = pairs(Message.objects.values_list("subject", flat=True))
    assert messages == pairs(RepeatedRequest.objects.values_list("key", flat=True))
    assert messages
    assert "pair 0" not in messages


def test_other_calendars_come_back_with_their_copy_and_their_hours(full: Town, tmp_path: Path) -> None:
    tomorrow = timezone.now() + dt.timedelta(days=1)
    given = by_file(full.instructor, event(tomorrow, tomorrow + dt.timedelta(hours=1)))
    copy, hours = content_of(given), list(given.spans.values_list("starts_at", "ends_at"))
    assert len(hours) == 1
    path = backed_up(tmp_path / "calendars.zip")
    remove(actor=full.instructor, calendar=given)

    put_back(path, replace=True)

    again = OtherCalendar.objects.get()
    assert (again.uid, again.label, content_of(again)) == (given.uid, "home", copy)
    assert list(again.spans.values_list("starts_at", "ends_at")) == hours
    assert digests(backed_up(tmp_path / "again.zip")) == digests(path)
