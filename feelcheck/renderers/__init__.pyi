from ._format import format_brief as format_brief
from ._format import format_number as format_number
from ._saving import save_figure as save_figure
from ._table import text_table as text_table
