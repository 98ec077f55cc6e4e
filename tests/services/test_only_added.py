"""The audit is only added to, whoever asks the database for something else."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import ProtectedError

from scheduling import guards, only_added
from scheduling.models import AuditEntry
from scheduling.services.booking import book_session
from tests.services.test_booking import book
from tests.worlds import Town, build_town, local


@pytest.fixture
def entry(town: Town) -> AuditEntry:
    book(town, "blowing", local(1, 18))
    return AuditEntry.objects.get()


def sql(statement: str) -> Callable[[AuditEntry], None]:
    """Behind the back of everything that is written in Python."""

    def run(entry: AuditEntry) -> None:
        with connection.cursor() as cursor:
            cursor.execute(statement.format(pk=entry.pk))

    return run


TAMPERING = {
    "another word": lambda entry: AuditEntry.objects.filter(pk=entry.pk).update(said="Nothing happened."),
    "saved again": lambda entry: entry.save(),
    "one taken out": lambda entry: entry.delete(),
    "all taken out": lambda _entry: AuditEntry.objects.all().delete(),
    "in bulk": lambda entry: AuditEntry.objects.bulk_update([entry], ["said"]),
    "in plain SQL": sql("UPDATE scheduling_auditentry SET actor_id = NULL WHERE id = {pk}"),
    "deleted in plain SQL": sql("DELETE FROM scheduling_auditentry WHERE id = {pk}"),
}


@pytest.mark.parametrize("tamper", TAMPERING.values(), ids=TAMPERING.keys())
def test_no_entry_is_changed_or_taken_out(entry: AuditEntry, tamper: Callable[[AuditEntry], object]) -> None:
    before = list(AuditEntry.objects.values())

    with pytest.raises(IntegrityError, match="lehrbook_audit_only_added"), transaction.atomic():
        tamper(entry)

    assert list(AuditEntry.objects.values()) == before


@pytest.mark.skipif(connection.vendor != "sqlite", reason="a statement of SQLite's own")
def test_an_entry_is_not_written_over(entry: AuditEntry) -> None:
    columns = "id, at, studio_id, actor_id, face, did, kind, subject"
    over = (
        f"INSERT OR REPLACE INTO scheduling_auditentry ({columns}, said) "
        f"SELECT {columns}, 'Nothing' FROM scheduling_auditentry"
    )

    with pytest.raises(IntegrityError, match="lehrbook_audit_only_added"), transaction.atomic():
        sql(over)(entry)

    assert AuditEntry.objects.get().said == entry.said


@pytest.mark.postgres_only
@pytest.mark.django_db
@pytest.mark.parametrize("tables", ["scheduling_auditentry", "studios_studio CASCADE"])
def test_the_table_is_not_emptied_by_one_statement(tables: str) -> None:
    with pytest.raises(IntegrityError, match="lehrbook_audit_only_added"), transaction.atomic():
        sql(f"TRUNCATE {tables}")(AuditEntry())


def test_whoever_has_entries_is_not_deleted(entry: AuditEntry, town: Town) -> None:
    for row in (town.instructor, town.hot_shop):
        with pytest.raises(ProtectedError), transaction.atomic():
            row.delete()


def test_nothing_serves_while_entries_could_be_changed(db: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute(only_added.removals()[1])

    with pytest.raises(ImproperlyConfigured, match="what keeps its audit"):
        guards.require()
    guards.install()
    guards.require()


def test_an_emptied_database_is_guarded_again(transactional_db: None) -> None:
    book(build_town(), "blowing", local(1, 18))
    assert AuditEntry.objects.exists()

    call_command("flush", interactive=False, verbosity=0, inhibit_post_migrate=True)

    assert not AuditEntry.objects.exists()
    guards.require()


def test_it_is_emptied_only_after_a_yes(entry: AuditEntry, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("builtins.input", lambda _question: "no")
    said = StringIO()

    call_command("flush", stdout=said)

    assert "Nothing was removed" in said.getvalue()
    assert AuditEntry.objects.exists()
    guards.require()


def test_a_restore_brings_the_entries_back_as_they_were(transactional_db: None, tmp_path: Path) -> None:
    session = book(build_town(), "blowing", local(1, 18))
    call_command("backup", tmp_path / "book.zip", stdout=StringIO())
    before = list(AuditEntry.objects.values())
    book_session(
        actor=session.instructor,
        course=session.course,
        studio=session.studio,
        instructor=session.instructor,
        starts_at=local(3, 18),
    )
    assert AuditEntry.objects.count() == 2

    call_command("restore", tmp_path / "book.zip", replace=True, stdout=StringIO())

    assert before == list(AuditEntry.objects.values()) != []
    guards.require()
    with pytest.raises(IntegrityError), transaction.atomic():
        AuditEntry.objects.all().delete()
