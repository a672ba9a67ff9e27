"""Sessions: a signed cookie that names a device, and runs out; tokens that tie a form to its session."""

import hashlib
import hmac
from datetime import datetime, timedelta

from itsdangerous import BadSignature, URLSafeSerializer

from dawnlevel.web.security.devices import Device, Devices
from dawnlevel.web.settings import Clock

LASTS = timedelta(days=90)
RENEWED_AFTER = timedelta(days=1)


class Sessions:
    """Makes and reads session cookies and form tokens."""

    def __init__(self, key: str, devices: Devices, clock: Clock, port: int) -> None:
        self.cookie = f"dawnlevel_{port}"  # cookies do not know ports: two servers would share one
        self._key = key.encode()
        self._devices = devices
        self._clock = clock
        self._signer = URLSafeSerializer(key, salt="session", signer_kwargs={"digest_method": hashlib.sha256})

    def write(self, device: Device) -> str:
        """The cookie's value for a device, signed, with its moment."""
        return str(self._signer.dumps([device.id, self._clock().isoformat()]))

    def read(self, value: str) -> tuple[Device, bool] | None:
        """The device a cookie names, and whether the cookie is due to be renewed.

        None where it is not ours, has run out, or the device has been sent away.
        """
        try:
            device_id, written = self._signer.loads(value)
            age = self._clock() - datetime.fromisoformat(written)
        except (BadSignature, ValueError, TypeError):
            return None
        is_as_written = self._signer.dumps([device_id, written]) == value  # base64 has more than one spelling
        if not is_as_written or not timedelta(minutes=-2) <= age < LASTS:
            return None
        device = self._devices.find(device_id)
        return None if device is None else (device, age > RENEWED_AFTER)

    def form_token(self, device_id: str) -> str:
        """The token that every form of this device carries."""
        return hmac.new(self._key, b"form:" + device_id.encode(), hashlib.sha256).hexdigest()

    def is_form_token(self, device_id: str, given: str) -> bool:
        """Whether `given` is this device's form token."""
        return hmac.compare_digest(self.form_token(device_id).encode(), given.encode())
