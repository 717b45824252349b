"""The one place that turns a foreign document into values: bounded files, nesting, numbers and names, and a shape.

What is read elsewhere as delimited text has its limits in `formats`; TOML and JSON pass here.
"""

from feelcheck.inputs.documents import json_document, toml_document, within_limits
from feelcheck.inputs.files import file_bytes, file_sha256, file_text
from feelcheck.inputs.shapes import Label, Length, shaped

__all__ = [
    "Label",
    "Length",
    "file_bytes",
    "file_sha256",
    "file_text",
    "json_document",
    "shaped",
    "toml_document",
    "within_limits",
]
