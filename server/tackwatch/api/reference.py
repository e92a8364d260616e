"""What is the same for every refit: the catalogue, the bundled products."""

from __future__ import annotations

from typing import Any

from tackwatch.api.doors import NOBODY, Blueprint, door
from tackwatch.api.schemas.reading import CatalogueSchema, ProfilesSchema
from tackwatch.merge.catalogue import as_dict
from tackwatch.work.profiles import bundled

blueprint = Blueprint("reference", __name__)


@door(blueprint, "GET", "/api/catalogue", who=NOBODY, gives=CatalogueSchema)
def get_catalogue() -> dict[str, Any]:
    """Give every kind of item and record with the type of each field."""
    return as_dict()


@door(blueprint, "GET", "/api/profiles", who=NOBODY, gives=ProfilesSchema)
def get_profiles() -> dict[str, Any]:
    """Give the bundled generic products; their values are typical, the data sheet of the tin counts."""
    return {"profiles": list(bundled())}
