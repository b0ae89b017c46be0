"""influxdb-client's names as untyped: it says that it is typed, but half of its functions are not."""

from __future__ import annotations

from typing import Any

import influxdb_client as _typed_in_part
from influxdb_client.client import write_api as _write_api
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

_library: Any = _typed_in_part

InfluxDBClient: Any = _library.InfluxDBClient
Point: Any = _library.Point
MILLISECONDS: Any = _library.WritePrecision.MS
SYNCHRONOUS: Any = _write_api.SYNCHRONOUS

__all__ = ["MILLISECONDS", "SYNCHRONOUS", "ApiException", "HTTPError", "InfluxDBClient", "Point"]
