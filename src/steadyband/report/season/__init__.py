"""The season: weeks as rows of small ribbons."""
