"""What a deployment may set, read once from the environment; every name starts with ``TACKWATCH_``."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

PUSH_HOSTS = (
    "fcm.googleapis.com",
    "updates.push.services.mozilla.com",
    "*.push.apple.com",
    "*.notify.windows.com",
)


LOOPBACK = ("127.0.0.1", "::1", "localhost")
_SMTP_PORTS = {"starttls": 587, "tls": 465, "none": 25}


class SettingError(ValueError):
    """A setting that cannot be used; ``field`` is the variable's name."""

    def __init__(self, field: str, detail: str) -> None:
        super().__init__(f"{field}: {detail}")
        self.field = field


@dataclass(frozen=True, slots=True)
class Smtp:
    """The mail server that takes this server's mail. ``security``: ``starttls``, ``tls`` or ``none``."""

    host: str
    port: int
    security: str
    sender: str
    user: str = ""
    password: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one running server.

    Parameters
    ----------
    data_dir
        Folder for the embedded database and the photos.
    database_url
        SQLAlchemy URL; SQLite inside ``data_dir`` unless set.
    public_url
        Where phones reach this server; used in links.
    push_hosts
        Host names that a push subscription may point to; ``*.`` matches one level or more below.
    webhook_hosts
        Host names that a person's webhook may point to, in the same way; none unless they are set.
    smtp
        Where mail is handed in; ``None``: this server sends none.
    push_contact
        The ``sub`` of the push signature: a ``mailto:`` or ``https:`` address of who runs the server.
    trusted_proxies
        How many reverse proxies stand in front, for the client's address.
    sign_in_per_minute
        Tries at invites and recovery codes that one address has per minute.
    photos_per_refit, photo_mb_per_refit
        How many photos a refit may have, and how many megabytes (10^6 bytes) they may take.
    metrics_token
        What opens ``/metrics``; empty: nothing does.
    """

    data_dir: Path
    database_url: str
    public_url: str = "http://localhost:8000"
    push_hosts: tuple[str, ...] = PUSH_HOSTS
    webhook_hosts: tuple[str, ...] = ()
    smtp: Smtp | None = None
    push_contact: str = "mailto:tackwatch@localhost.localdomain"
    trusted_proxies: int = 0
    sign_in_per_minute: int = 20
    photos_per_refit: int = 10_000
    photo_mb_per_refit: int = 10_000
    log_json: bool = True
    metrics_token: str = field(default="", repr=False)


def from_environment(environment: Mapping[str, str] | None = None) -> Settings:
    """Read the settings.

    Raises
    ------
    SettingError
        When a value cannot be read.
    """
    given = os.environ if environment is None else environment
    data_dir = Path(given.get("TACKWATCH_DATA_DIR", "data")).expanduser().absolute()
    return Settings(
        data_dir=data_dir,
        database_url=_database_url(given.get("TACKWATCH_DATABASE_URL", ""), data_dir),
        public_url=given.get("TACKWATCH_PUBLIC_URL", "http://localhost:8000").rstrip("/"),
        push_hosts=_words(given.get("TACKWATCH_PUSH_HOSTS", ""), PUSH_HOSTS),
        webhook_hosts=_words(given.get("TACKWATCH_WEBHOOK_HOSTS", ""), ()),
        smtp=_smtp(given),
        push_contact=given.get("TACKWATCH_PUSH_CONTACT", "mailto:tackwatch@localhost.localdomain"),
        trusted_proxies=_whole(given, "TACKWATCH_TRUSTED_PROXIES", 0),
        sign_in_per_minute=_whole(given, "TACKWATCH_SIGN_IN_PER_MINUTE", 20),
        photos_per_refit=_whole(given, "TACKWATCH_PHOTOS_PER_REFIT", 10_000),
        photo_mb_per_refit=_whole(given, "TACKWATCH_PHOTO_MB_PER_REFIT", 10_000),
        log_json=given.get("TACKWATCH_LOG", "json") != "plain",
        metrics_token=given.get("TACKWATCH_METRICS_TOKEN", "").strip(),
    )


def fixtures_dir() -> Path:
    """Give the folder of the bundled profiles and the demo: in the package, or in the checkout."""
    installed = Path(__file__).parent / "fixtures"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "fixtures"


def _database_url(url: str, data_dir: Path) -> str:
    if not url:
        return f"sqlite:///{data_dir / 'tackwatch.sqlite3'}"
    for plain in ("postgres://", "postgresql://"):
        if url.startswith(plain):
            return "postgresql+psycopg://" + url.removeprefix(plain)
    if url.startswith(("sqlite:///", "postgresql+psycopg://")):
        return url
    raise SettingError("TACKWATCH_DATABASE_URL", "use sqlite:///path or postgresql://...")


def _smtp(given: Mapping[str, str]) -> Smtp | None:
    host = given.get("TACKWATCH_SMTP_HOST", "").strip()
    if not host:
        return None
    security = given.get("TACKWATCH_SMTP_SECURITY", "starttls")
    if security not in _SMTP_PORTS:
        raise SettingError("TACKWATCH_SMTP_SECURITY", "use starttls, tls or none")
    user, sender = given.get("TACKWATCH_SMTP_USER", ""), given.get("TACKWATCH_SMTP_SENDER", "")
    if user and security == "none" and host not in LOOPBACK:
        raise SettingError("TACKWATCH_SMTP_SECURITY", "a password is not sent without encryption")
    if "@" not in sender:
        raise SettingError("TACKWATCH_SMTP_SENDER", "the address that mail comes from is needed")
    return Smtp(
        host=host,
        port=_whole(given, "TACKWATCH_SMTP_PORT", _SMTP_PORTS[security]),
        security=security,
        sender=sender,
        user=user,
        password=_from_file(given, "TACKWATCH_SMTP_PASSWORD_FILE") if user else "",
    )


def _from_file(given: Mapping[str, str], name: str) -> str:
    try:
        return Path(given.get(name, "")).read_text("utf-8").strip()
    except (OSError, ValueError):
        raise SettingError(name, "a readable file with the password is needed") from None


def _whole(given: Mapping[str, str], name: str, default: int) -> int:
    text = given.get(name, str(default))
    if not text.isdecimal():
        raise SettingError(name, "a whole number is needed")
    return int(text)


def _words(text: str, default: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(text.replace(",", " ").split()) or default
