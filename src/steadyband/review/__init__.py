"""Many audits: the athlete folder and its week review."""

from steadyband.review.folder import AthleteFolder, folder_around, loose_folder, open_folder, recordings_in
from steadyband.review.model import Failure, WeekReview
from steadyband.review.sessions import audit_file
from steadyband.review.week import review_week

__all__ = [
    "AthleteFolder",
    "Failure",
    "WeekReview",
    "audit_file",
    "folder_around",
    "loose_folder",
    "open_folder",
    "recordings_in",
    "review_week",
]
