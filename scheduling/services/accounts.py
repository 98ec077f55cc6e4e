"""Accounts: an address is given, confirmed by a mail, and signs in with a password of its owner's choice.

    sign_up --mail with a link--> confirm_address (password chosen, active, student at the studio named)

Whoever gives an address learns nothing about it: what is known of it is said in the mail alone, which only
its owner reads. The password is chosen behind the link, so that nobody prepares an account for somebody else.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from axes.utils import reset as forget_attempts
from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.contrib.auth.tokens import PasswordResetTokenGenerator, default_token_generator
from django.db.models import F, TextChoices
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from rest_framework.authtoken.models import Token

from scheduling.errors import InvalidInput
from scheduling.services import audit
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from studios.models import EndedRole, Language, Membership, Person, Role, SignUp, Studio, Units
from studios.said import marked, said

LONGEST_NAME = 80


class Confirmations(PasswordResetTokenGenerator):
    """Tokens that confirm an address; void as soon as it is confirmed."""

    key_salt = "lehrbook.confirm-address"

    def check_token(self, user: Person | None, token: str | None) -> bool:
        return user is not None and user.awaits_confirmation and super().check_token(user, token)


confirmations = Confirmations()


@dataclass(frozen=True, kw_only=True)
class Ways:
    """Addresses of the pages that a mail leads to; those with a key are made from it."""

    sign_in: str
    forgotten: str
    confirm: Callable[[dict[str, str]], str]
    new_password: Callable[[dict[str, str]], str]


@one_write
def sign_up(*, name: str, email: str, studio: Studio, ways: Ways) -> None:
    """Somebody gives an address to become a student at a studio; whatever is known of it, a mail says.

    Until the address is confirmed, what was given last stands. Raises InvalidInput.
    """
    called = _as_name(name)
    person = Person.objects.filter(email__iexact=email).first() or _unconfirmed(email, called, studio)
    if not person.awaits_confirmation:
        _say_known(person, ways)
        return
    SignUp.objects.filter(person=person).update(studio=studio, asked_at=timezone.now())
    Person.objects.filter(pk=person.pk, is_active=False).update(name=called)
    _ask_to_confirm(person, ways)


@one_write
def ask_new_password(*, email: str, ways: Ways) -> None:
    """Somebody does not know the password: a mail leads to a new one, if the address can sign in at all."""
    person = Person.objects.filter(email__iexact=email).first()
    if person is None:
        return
    if person.is_active:
        link = ways.new_password(key_of(person, default_token_generator))
        body = said(FORGOTTEN, link=link)
        _tell_once_an_hour(person, "forgotten", said("Lehrbook: choose a new password"), body)
    elif person.awaits_confirmation:
        _ask_to_confirm(person, ways)


@one_write
def confirm_address(*, person: Person, password: str) -> Person:
    """Whoever reads the mail chooses the password: from now on the person signs in, and is a student.

    Raises InvalidInput when that was done before.
    """
    lock(people=[person.pk])
    waiting = SignUp.objects.filter(person=person, person__is_active=False).select_related("studio").first()
    if waiting is None:
        raise InvalidInput(problem=said("This address is confirmed already; sign in."))
    person.is_active = True
    person.set_password(password)
    person.save(update_fields=["is_active", "password"])
    if waiting.studio is not None:
        _make_student(person, waiting.studio)
    _note(person, "confirm-address", f"{person.name}, for the first time")
    waiting.delete()
    forget_attempts(username=person.email)
    return person


@one_write
def set_password(*, person: Person, password: str) -> Person:
    """A new password ends every session that began with the old one, and withdraws the API token."""
    lock(people=[person.pk])
    person.set_password(password)
    person.save(update_fields=["password"])
    Token.objects.filter(user=person).delete()
    forget_attempts(username=person.email)
    tell(person=person, subject=said("Lehrbook: your password was changed"), body=said(CHANGED))
    _note(person, "choose-password", person.name)
    return person


@one_write
def sign_out_everywhere(*, person: Person) -> None:
    """Every session of the person ends, wherever it is, and the API token is withdrawn."""
    Person.objects.filter(pk=person.pk).update(sign_outs=F("sign_outs") + 1)
    Token.objects.filter(user=person).delete()
    _note(person, "sign-out-everywhere", person.name)


@one_write
def withdraw_token(*, person: Person) -> None:
    """The token of the API opens nothing any more; where there is none, nothing changes."""
    if Token.objects.filter(user=person).delete()[0]:
        _note(person, "withdraw-token", person.name)


@one_write
def rename(*, person: Person, name: str) -> Person:
    """A person is called as they write themselves. Raises InvalidInput."""
    before, person.name = person.name, _as_name(name)
    person.save(update_fields=["name"])
    _note(person, "rename", f"{before} is now {person.name}")
    return person


@one_write
def read_in(*, person: Person, language: str, units: str) -> Person:
    """In which language and units a person reads; empty: the browser's language, each studio's units."""
    person.language, person.units = _one_of(Language, language), _one_of(Units, units)
    person.save(update_fields=["language", "units"])
    _note(person, "choose-language", f"{person.name}, {language or 'any language'}, {units or 'any units'}")
    return person


@one_write
def join_studio(*, person: Person, studio: Studio) -> Membership:
    """Somebody with an account becomes a student at one more studio. Raises InvalidInput."""
    lock(people=[person.pk])
    if Membership.objects.filter(person=person, studio=studio).exists():
        raise InvalidInput(
            field="studio", problem=said("You belong to {studio} already.", studio=studio.name)
        )
    if EndedRole.objects.filter(person=person, studio=studio).exists():
        raise InvalidInput(
            field="studio",
            problem=said(
                "Your role at {studio} was ended; only its manager gives a new one.", studio=studio.name
            ),
        )
    row = _make_student(person, studio)
    audit.note(actor=person, did="join", subject=person, studio=studio, said=f"{person.name}, {row.role}")
    return row


def forget_unconfirmed(between: Callable[[], None] = lambda: None) -> int:
    """Addresses that nobody confirmed while the link was good are forgotten, one by one; returns how many."""
    since = timezone.now() - 2 * dt.timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT)
    old = SignUp.objects.filter(person__is_active=False, asked_at__lt=since)
    forgotten = 0
    for person_id in list(old.values_list("person_id", flat=True)):
        between()
        forgotten += _forget(person_id)
    return forgotten


@one_write
def _forget(person_id: int) -> bool:
    """Unless the address was confirmed in the meantime."""
    lock(people=[person_id])
    return bool(Person.objects.filter(pk=person_id, is_active=False, sign_up__isnull=False).delete()[0])


def key_of(person: Person, tokens: PasswordResetTokenGenerator) -> dict[str, str]:
    """What a link in a mail names: whom, and the proof that it was mailed."""
    return {"uidb64": urlsafe_base64_encode(force_bytes(person.pk)), "token": tokens.make_token(person)}


def _note(person: Person, did: str, said: str) -> None:
    """What people do to their own account, where they have a role."""
    audit.note_of_account(actor=person, did=did, subject=person, person=person, said=said)


def _unconfirmed(email: str, name: str, studio: Studio) -> Person:
    """Somebody who cannot sign in; of two that give one address at the same moment, one makes the row."""
    facts = {"name": name, "is_active": False, "password": make_password(None)}
    person, new = Person.objects.get_or_create(email=email.lower(), defaults=facts)
    if new:
        SignUp.objects.create(person=person, studio=studio)
    return person


def _make_student(person: Person, studio: Studio) -> Membership:
    """A role that stands at once; the manager sees that it is new."""
    facts = {"new_since": timezone.now()}
    row, _ = Membership.objects.get_or_create(person=person, studio=studio, role=Role.STUDENT, defaults=facts)
    return row


def _one_of(kind: type[TextChoices], value: str) -> str:
    if value not in ("", *kind.values):
        raise InvalidInput(field=kind.__name__.lower(), problem=said("Choose one that is listed."))
    return value


def _as_name(name: str) -> str:
    plain = " ".join("".join(letter if letter.isprintable() else " " for letter in name).split())
    if not 0 < len(plain) <= LONGEST_NAME:
        raise InvalidInput(
            field="name",
            problem=said("Write a name of 1 to {longest_name} letters.", longest_name=LONGEST_NAME),
        )
    return plain


def _ask_to_confirm(person: Person, ways: Ways) -> None:
    studio = SignUp.objects.select_related("studio").get(person=person).studio
    body = said(
        CONFIRM,
        where=said(" to become a student at {studio}", studio=studio.name) if studio else "",
        link=ways.confirm(key_of(person, confirmations)),
    )
    what = f"confirm {studio.pk if studio else 0}"
    _tell_once_an_hour(person, what, said("Lehrbook: confirm your address"), body)


def _say_known(person: Person, ways: Ways) -> None:
    known = said(KNOWN, sign_in=ways.sign_in, forgotten=ways.forgotten)
    body = known if person.is_active else said(CLOSED)
    _tell_once_an_hour(person, "known", said("Lehrbook: you have an account already"), body)


def _tell_once_an_hour(person: Person, what: str, subject: str, body: str) -> None:
    """Whoever types somebody's address again and again does not fill that person's mailbox."""
    stands = f"{person.password} {person.last_login} {person.is_active}"
    state = salted_hmac("lehrbook.told", stands).hexdigest()[:16]
    tell(person=person, subject=subject, body=body, key=f"{what} {timezone.now():%Y-%m-%dT%H} {state}")


# No name stands in these: it was typed by whoever gave the address.
CONFIRM = marked(
    """Somebody, probably you, signed up at Lehrbook with this address{where}.

To confirm the address and choose a password, open this within a day:
{link}

If it was not you, do nothing: nobody can sign in with your address, and it is forgotten.
"""
)
KNOWN = marked(
    """Somebody, probably you, signed up at Lehrbook with this address. It has an account already, \
so nothing was changed.

Sign in: {sign_in}
If you do not know the password any more: {forgotten}

If it was not you, do nothing.
"""
)
CLOSED = marked(
    """Somebody, probably you, signed up at Lehrbook with this address. It has an account that was \
closed, so nothing was changed. Whoever looks after Lehrbook at your studio can open it again.
"""
)
FORGOTTEN = marked(
    """Somebody, probably you, asked for a new password at Lehrbook.

To choose it, open this within a day:
{link}

If it was not you, do nothing: the password stays as it is.
"""
)
CHANGED = marked(
    """The password of your account at Lehrbook was changed, and every other device is signed out.

If it was not you, ask for a new password on the page Sign in, and tell the studio's manager.
"""
)
