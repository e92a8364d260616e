"""The key pair that signs pushes (RFC 8292): made at first run, kept in the server's keyring, the same ever after."""

from __future__ import annotations

import base64

from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec

from tackwatch.store import keyring

_NAME = "push-signing-key"


def private_key_pem() -> str:
    """Give the private key as PEM (PKCS 8), made now if there is none. Not inside a transaction."""
    return keyring.get(_NAME) or keyring.put_if_absent(_NAME, new_key_pem())


def public_key() -> str:
    """Give this server's public key."""
    return public_of(private_key_pem())


def public_of(private_pem: str) -> str:
    """Give the public half as a phone's ``applicationServerKey``: the uncompressed point in base64url."""
    key = serialization.load_pem_private_key(private_pem.encode(), password=None)
    point = key.public_key().public_bytes(
        serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint
    )
    return base64.urlsafe_b64encode(point).rstrip(b"=").decode()


def new_key_pem() -> str:
    """Make a private key."""
    return (
        ec.generate_private_key(ec.SECP256R1())
        .private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        .decode()
    )
