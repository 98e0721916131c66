"""Pages, figures, tables and terminal views: numbers and codes become words here. Computes no physiology."""
