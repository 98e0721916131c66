"""Audits kept between runs: Parquet files beside the athlete folder, safe to delete at any time."""

from steadyband.review.store.store import Store, Stored, open_store

__all__ = ["Store", "Stored", "open_store"]
