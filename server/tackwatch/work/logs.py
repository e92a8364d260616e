"""How the log is written: one JSON object a line, or plain text for a person at a terminal."""

from __future__ import annotations

import structlog
from structlog.tracebacks import ExceptionDictTransformer

# an account of an error without the variables of its functions, among which are keys and what people wrote
_ACCOUNT = structlog.processors.ExceptionRenderer(ExceptionDictTransformer(show_locals=False))


def configure(*, as_json: bool) -> None:
    """Set up the log of this process; it goes to standard output."""
    last: list[structlog.typing.Processor] = (
        [_ACCOUNT, structlog.processors.JSONRenderer()]
        if as_json
        else [structlog.dev.ConsoleRenderer(colors=False)]
    )
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            *last,
        ],
        cache_logger_on_first_use=False,
    )
