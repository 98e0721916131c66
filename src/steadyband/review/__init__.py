"""Many audits of one athlete: the week, the block, the season, and a coach's roster."""

from steadyband.review.model import WeekReview
from steadyband.review.week import review_week

__all__ = ["WeekReview", "review_week"]
