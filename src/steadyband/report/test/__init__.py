"""The pages around a step test: report, plan sheet, two meters, tests over time."""
