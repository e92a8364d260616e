"""The tables. Everything but the keyring, heartbeats and tallies belongs to exactly one refit."""

from tackwatch.store.models.addresses import Address, AddressRemoval, CalendarEntry, SentCode
from tackwatch.store.models.alarms import Alarm, PushSubscription
from tackwatch.store.models.health import Heartbeat, Tally
from tackwatch.store.models.keyring import KeyringEntry
from tackwatch.store.models.people import Device, Invite
from tackwatch.store.models.photos import PhotoFile, PhotoUpload
from tackwatch.store.models.plans import Plan, PlanWatch
from tackwatch.store.models.refit import Refit
from tackwatch.store.models.rows import DifferenceRow, ItemRow, OperationRow, RecordRow
from tackwatch.store.models.snapshots import SnapshotPage

__all__ = [
    "Address",
    "AddressRemoval",
    "Alarm",
    "CalendarEntry",
    "Device",
    "DifferenceRow",
    "Heartbeat",
    "Invite",
    "ItemRow",
    "KeyringEntry",
    "OperationRow",
    "PhotoFile",
    "PhotoUpload",
    "Plan",
    "PlanWatch",
    "PushSubscription",
    "RecordRow",
    "Refit",
    "SentCode",
    "SnapshotPage",
    "Tally",
]
