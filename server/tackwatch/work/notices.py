"""Kinds of alarm rows that are no warnings: no clock asks for them, and they end when their person has seen them."""

from __future__ import annotations

MISSED_ALARMS = "missed_alarms"
PLAN_CHANGED = "plan_changed"
NOTICES = frozenset({MISSED_ALARMS, PLAN_CHANGED})
