"""Floor 6: where module and connector stand on the outline, searched and scored."""
