"""What the pages share: template engine, look, ribbons, words, tables."""
