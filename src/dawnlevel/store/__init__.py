"""Where records are kept: SQLite by default, PostgreSQL by URL; every record immutable."""

from dawnlevel.store.batches import FinerSamples, SampleBatch, SampleImport, SamplesAdded, Thinning
from dawnlevel.store.merging import Merged
from dawnlevel.store.patience import Patience
from dawnlevel.store.rows import HistoryEntry, StoredRecord, TankArchive, TankVersion
from dawnlevel.store.store import Store, open_store

__all__ = [
    "FinerSamples",
    "HistoryEntry",
    "Merged",
    "Patience",
    "SampleBatch",
    "SampleImport",
    "SamplesAdded",
    "Store",
    "StoredRecord",
    "TankArchive",
    "TankVersion",
    "Thinning",
    "open_store",
]
