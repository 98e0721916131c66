"""Many audits of one athlete: the week, the block, the season, and a coach's roster."""

from steadyband.review.model import Review
from steadyband.review.week import review_week

__all__ = ["Review", "review_week"]
