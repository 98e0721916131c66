"""The athlete folder: who is judged, by which tests and labels; its recordings, the store, and the work on many cores."""

from steadyband.athlete.folder import AthleteFolder, folder_around, loose_folder, open_folder, recordings_in
from steadyband.athlete.model import Failure
from steadyband.athlete.sessions import audit_file

__all__ = ["AthleteFolder", "Failure", "audit_file", "folder_around", "loose_folder", "open_folder", "recordings_in"]
