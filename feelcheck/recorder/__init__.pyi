from .guided import Face as Face
from .script_files import load_script as load_script
from .script_files import script_names as script_names
from .session import Progress as Progress
from .session import RecordingAsked as RecordingAsked
from .session import record_session as record_session
from .session import resume_session as resume_session
