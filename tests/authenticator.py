"""A device that holds passkeys, in Python: what a browser would send of it (WebAuthn level 2).

Layout of the data: sections 6.1 and 6.5.1; client data: section 5.8.1; attestation "none": 8.7.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import dataclass, field
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from fido2 import cbor

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40
ES256 = -7


def text(raw: bytes) -> str:
    return urlsafe_b64encode(raw).rstrip(b"=").decode()


def raw(written: str) -> bytes:
    return urlsafe_b64decode(written + "=" * (-len(written) % 4))


@dataclass
class Authenticator:
    """One device with one key; it verifies its person unless told not to."""

    origin: str = "http://testserver"
    flags: int = PRESENT | VERIFIED
    counter: int = 0
    credential_id: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    key: Any = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))

    def held(self, algorithm: int = ES256) -> bytes:
        """The attested credential data; the public key is a COSE_Key (RFC 9053, 7.1.1)."""
        numbers = self.key.public_key().public_numbers()
        x, y = (one.to_bytes(32, "big") for one in (numbers.x, numbers.y))
        public = cbor.encode({1: 2, 3: algorithm, -1: 1, -2: x, -3: y})
        return bytes(16) + len(self.credential_id).to_bytes(2, "big") + self.credential_id + public

    def create(self, options: dict[str, Any], algorithm: int = ES256) -> str:
        """Return the answer to the options of a new passkey."""
        data = self._data(options["rp"]["id"], ATTESTED) + self.held(algorithm)
        made = {"fmt": "none", "attStmt": {}, "authData": data}
        return self._answer(
            clientDataJSON=self._client("webauthn.create", options),
            attestationObject=cbor.encode(made),
        )

    def get(self, options: dict[str, Any]) -> str:
        """Return the answer to the options of a proof."""
        data = self._data(options["rpId"])
        client = self._client("webauthn.get", options)
        signed = self.key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(SHA256()))
        return self._answer(clientDataJSON=client, authenticatorData=data, signature=signed)

    def _client(self, kind: str, options: dict[str, Any]) -> bytes:
        said = {"type": kind, "challenge": options["challenge"], "origin": self.origin}
        return json.dumps({**said, "crossOrigin": False}).encode()

    def _data(self, domain: str, more: int = 0) -> bytes:
        host = hashlib.sha256(domain.encode()).digest()
        return host + bytes([self.flags | more]) + self.counter.to_bytes(4, "big")

    def _answer(self, **response: bytes) -> str:
        held = text(self.credential_id)
        return json.dumps(
            {
                "id": held,
                "rawId": held,
                "type": "public-key",
                "response": {name: text(value) for name, value in response.items()},
                "clientExtensionResults": {},
            }
        )
