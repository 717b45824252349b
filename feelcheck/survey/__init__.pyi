from .engines import Engine as Engine
from .engines import engine_of as engine_of
from .finding import Found as Found
from .finding import find_files as find_files
from .finding import hash_of as hash_of
from .running import Progress as Progress
from .running import rows_by_path as rows_by_path
from .running import run_survey as run_survey
