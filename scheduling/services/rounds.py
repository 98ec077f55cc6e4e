"""All periodic work in one table: what it is called, what it does, and how often.

    ROUNDS --every so often--> whoever takes the lease of a round does it, once at a time --> gives it back

Beat has a worker ask for it; with no Redis every serving process asks by itself (`project.pulse`). It
comes to the same however many ask. A round that fails, or whose holder is killed, is made again soon.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from scheduling.models import Face
from scheduling.services import (
    accounts,
    day_sheets,
    decisions,
    line_going_on,
    reading_calendars,
    reminders,
    repeats,
)
from scheduling.services.audit import acting
from scheduling.services.leases import Turn, TurnLost, give_back, give_up, take
from scheduling.services.messages import deliver_messages

MAKE_ROUNDS = "scheduling.make_rounds"
# How often somebody looks whether a round is due.
TICK_S = 15.0
# Whoever has said nothing for so long is taken for dead.
LASTS = dt.timedelta(minutes=2)
MOST_MESSAGES = 500

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Round:
    """One piece of periodic work; `does` gets the turn, keeps it from step to step, and says how much it did.

    Its steps may be done twice: a holder that is killed in the middle is succeeded by another.
    """

    name: str
    does: Callable[[Turn], int]
    every: dt.timedelta


def deliver_outbox(turn: Turn) -> int:
    """Deliver what nobody rang for, and what failed and is to be tried again."""
    return deliver_messages(MOST_MESSAGES, between=turn.keep)


def forget_answers(turn: Turn) -> int:
    """Answers to repeated requests are kept for 48 hours and no longer."""
    return repeats.forget_old(between=turn.keep)


def forget_sign_ups(turn: Turn) -> int:
    """Addresses that nobody confirmed while the link in the mail was good."""
    return accounts.forget_unconfirmed(between=turn.keep)


def lapse_and_offer(turn: Turn) -> int:
    """Seats that were kept too long, offers that nobody took, and who is next in line."""
    return line_going_on.go_on(turn.keep)


def flag_classes(turn: Turn) -> int:
    """Classes whose decision day has come with too few people."""
    return decisions.flag_sessions(turn.keep)


def remind_people(turn: Turn) -> int:
    """Of seats, torches and classes to teach."""
    return reminders.remind(turn.keep)


def send_day_sheets(turn: Turn) -> int:
    """What technicians light, load, unload and charge today."""
    return day_sheets.send_day_sheets(turn.keep)


def read_other_calendars(turn: Turn) -> int:
    """Calendars that people keep elsewhere: fetched, read, and laid out as far ahead as anybody plans."""
    return reading_calendars.read_due(turn.keep)


ROUNDS = (
    Round(name="kept-seats", does=lapse_and_offer, every=dt.timedelta(seconds=30)),
    Round(name="decisions", does=flag_classes, every=dt.timedelta(minutes=5)),
    Round(name="reminders", does=remind_people, every=dt.timedelta(minutes=5)),
    Round(name="day-sheets", does=send_day_sheets, every=dt.timedelta(minutes=5)),
    Round(name="outbox", does=deliver_outbox, every=dt.timedelta(minutes=1)),
    Round(name="repeated-requests", does=forget_answers, every=dt.timedelta(hours=1)),
    Round(name="sign-ups", does=forget_sign_ups, every=dt.timedelta(hours=1)),
    # The last: it waits for servers that are not ours.
    Round(name="other-calendars", does=read_other_calendars, every=dt.timedelta(seconds=30)),
)


def make_rounds(rounds: Iterable[Round] = ROUNDS, lasts: dt.timedelta = LASTS) -> dict[str, int]:
    """Do what is due and nobody else is doing; returns how much each of these rounds did."""
    done = {}
    for each in rounds:
        turn = take(each.name, every=each.every, lasts=lasts)
        if turn is not None:
            done[each.name] = _make(each, turn)
    return done


def _make(each: Round, turn: Turn) -> int:
    """One round; whatever goes wrong in it stops no other."""
    try:
        with acting(Face.ROUND):
            done = each.does(turn)
    except TurnLost:
        log.warning("The round %s took too long, and another process has taken it over.", each.name)
    except Exception as error:
        log.exception("The round %s failed; it is made again in a minute.", each.name)
        give_up(turn, error)
    else:
        give_back(turn)
        return done
    return 0
