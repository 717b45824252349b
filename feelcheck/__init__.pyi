from .pipeline import RecordingAsked as RecordingAsked
from .pipeline import RehearsalAsked as RehearsalAsked
from .pipeline import analyze as analyze
from .pipeline import bench as bench
from .pipeline import compare as compare
from .pipeline import feel as feel
from .pipeline import log as log
from .pipeline import parts as parts
from .pipeline import read as read
from .pipeline import rehearse as rehearse
from .pipeline import report as report
from .pipeline import survey as survey
from .pipeline import verify as verify

__version__: str
