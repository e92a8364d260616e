"""What is asked for with a photo."""

from __future__ import annotations

from marshmallow import Schema, fields


class PhotoAsked(Schema):
    """How a photo is sent whole."""

    keep_metadata = fields.Bool(
        load_default=False,
        truthy={"true"},
        falsy={"false"},
        metadata={"description": "Keep what is in the file beside the picture, such as the place"},
    )
