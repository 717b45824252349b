from ._app import app as app
from ._commands import COMMANDS as COMMANDS
from ._commands import command_line as command_line
from ._commands import run as run
