"""boardgen makes carrier boards for obsolete input devices, from a measured plug to fabrication files."""

__version__ = "0.1.0"
