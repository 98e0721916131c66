"""Sessions kept between runs: files of rows beside the athlete folder, safe to delete at any time."""

from steadyband.athlete.store.store import Store, open_store, stat_of

__all__ = ["Store", "open_store", "stat_of"]
