"""What the bare endpoint says to the database, said by pgbench: no service can be faster than that."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Sequence
from urllib.parse import urlsplit

from tests import own_servers
from tests.scenarios.hammer.stack import Stack

SCRIPT = """
SELECT nextval('bench_turn') AS turn \\gset
BEGIN;
SELECT id, studio_id, starts_at, ends_at FROM scheduling_session
    WHERE id = (SELECT id FROM bench_session WHERE nth = :turn % {sessions}) FOR NO KEY UPDATE \\gset
SELECT count(*) + 1 AS number FROM scheduling_seat
    WHERE session_id = :id AND status IN ('kept', 'booked') \\gset
INSERT INTO scheduling_seat (uid, person_id, studio_id, session_id, number, starts_at, ends_at, sequence,
    status, kept_longer, note, created_at, changed_at)
    SELECT gen_random_uuid(), person, :studio_id, :id, :number, ':starts_at', ':ends_at', 0,
        'booked', false, '', now(), now() FROM bench_person WHERE nth = :turn;
END;
"""
TPS = re.compile(r"tps = ([0-9.]+)")


def rate(stack: Stack, sessions: Sequence[str], count: int, clients: int) -> float:
    """Transactions a second, each a seat of another person in one of the sessions."""
    with stack.connect() as connection:
        connection.execute("DROP TABLE IF EXISTS bench_session, bench_person")
        connection.execute("DROP SEQUENCE IF EXISTS bench_turn")
        connection.execute("CREATE SEQUENCE bench_turn MINVALUE 0")
        numbered = "SELECT {0}id {1}, row_number() OVER (ORDER BY {0}id) - 1 AS nth FROM {2}"
        people = numbered.format("user_", "AS person", "authtoken_token")
        own = numbered.format("", "", "scheduling_session WHERE uid = ANY(%s)")
        connection.execute(f"CREATE TABLE bench_person AS {people}")
        connection.execute(f"CREATE TABLE bench_session AS {own}", [list(sessions)])
        connection.execute("CREATE UNIQUE INDEX ON bench_person (nth)")
        connection.execute("CREATE UNIQUE INDEX ON bench_session (nth)")
    script = stack.folder / "seats.sql"
    script.write_text(SCRIPT.format(sessions=len(sessions)))
    at = urlsplit(stack.database)
    command = [
        str(own_servers.pgbench()),
        *("--no-vacuum", "--file", str(script), "--client", str(clients), "--jobs", "2"),
        *("--transactions", str(count // clients), "--host", str(at.hostname), "--port", str(at.port)),
        *("--username", str(at.username), at.path.lstrip("/")),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = TPS.search(done.stdout)
    if done.returncode or found is None:
        raise RuntimeError(f"pgbench failed:\n{done.stdout}\n{done.stderr}")
    return float(found[1])
