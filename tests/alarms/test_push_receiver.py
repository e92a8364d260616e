"""The receiver that the other tests trust, checked against the standards' own examples."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import http_ece
import pytest
from cryptography.exceptions import InvalidSignature, InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec

from tests.support.push_receiver import PhoneKeys, check_signature, open_message, point, unb64

# RFC 8291, Appendix A: every value of the example
PLAINTEXT = "V2hlbiBJIGdyb3cgdXAsIEkgd2FudCB0byBiZSBhIHdhdGVybWVsb24"
PHONE_PUBLIC = (
    "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
)
PHONE_PRIVATE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
SENDER_PRIVATE = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
AUTH = "BTBZMqHH6r4Tts7J_aSIgg"
SALT = "DGv6ra1nlYgDCS1FRnbzlw"
SEALED = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27ml"
    "mlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPT"
    "pK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
)
# RFC 8292, 2.4, figure 1
SIGNED = (
    "vapid t=eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3B1c2guZXhhbXBsZS5uZXQiLCJl"
    "eHAiOjE0NTM1MjM3NjgsInN1YiI6Im1haWx0bzpwdXNoQGV4YW1wbGUuY29tIn0.i3CYb7t4xfxCDquptFOepC9GAu_HL"
    "GkMlMuCGSK2rpiUfnK9ojFwDXb1JrErtmysazNjjvW2L9OkSSHzvoD1oA, "
    "k=BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SDYic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs"
)
SIGNED_UNTIL = datetime.fromtimestamp(1453523768, UTC)


def _key(private: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(unb64(private)), ec.SECP256R1())


def _phone() -> PhoneKeys:
    return PhoneKeys(_key(PHONE_PRIVATE), unb64(AUTH))


def test_the_example_is_opened_byte_for_byte_rfc8291_appendix_a() -> None:
    assert _phone().p256dh == PHONE_PUBLIC
    assert open_message(unb64(SEALED), _phone()) == unb64(PLAINTEXT)


def test_the_sealing_library_makes_the_example_byte_for_byte_rfc8291_appendix_a() -> None:
    sealed = http_ece.encrypt(
        unb64(PLAINTEXT),
        salt=unb64(SALT),
        private_key=_key(SENDER_PRIVATE),
        dh=unb64(PHONE_PUBLIC),
        auth_secret=unb64(AUTH),
        version="aes128gcm",
    )
    assert sealed == unb64(SEALED)


@pytest.mark.parametrize("at", [0, 30, 100, 143])
def test_one_changed_bit_is_noticed(at: int) -> None:
    sealed = bytearray(unb64(SEALED))
    sealed[at] ^= 1
    with pytest.raises((InvalidTag, ValueError)):
        open_message(bytes(sealed), _phone())


def test_another_phone_cannot_open_it() -> None:
    other = PhoneKeys(_key(SENDER_PRIVATE), unb64(AUTH))
    assert point(other.private.public_key()) != unb64(PHONE_PUBLIC)
    with pytest.raises(InvalidTag):
        open_message(unb64(SEALED), other)


def test_the_example_signature_holds_rfc8292_2_4() -> None:
    claims = check_signature(SIGNED, "https://push.example.net", SIGNED_UNTIL - timedelta(hours=12))
    assert claims["sub"] == "mailto:push@example.com"


def test_a_changed_claim_is_noticed_rfc8292() -> None:
    forged = SIGNED.replace(".eyJhdWQiOiJodHRwczov", ".eyJhdWQiOiJodHRwczox")
    with pytest.raises((InvalidSignature, ValueError)):
        check_signature(forged, "https://push.example.net", SIGNED_UNTIL - timedelta(hours=12))


@pytest.mark.parametrize("before_h", [-1, 25])
def test_a_signature_that_is_over_or_runs_too_long_is_refused_rfc8292_2(before_h: int) -> None:
    with pytest.raises(AssertionError):
        check_signature(
            SIGNED, "https://push.example.net", SIGNED_UNTIL - timedelta(hours=before_h)
        )


def test_a_signature_for_another_service_is_refused_rfc8292_2() -> None:
    with pytest.raises(AssertionError):
        check_signature(SIGNED, "https://other.example.net", SIGNED_UNTIL - timedelta(hours=12))
