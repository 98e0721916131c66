"""Audits kept between runs: Parquet files beside the athlete folder, safe to delete at any time."""

from steadyband.athlete.store.store import Kept, Store, Stored, open_store, stat_of

__all__ = ["Kept", "Store", "Stored", "open_store", "stat_of"]
