"""Simulation of an invented athlete's sessions: course, rider, runner, heart rate, devices, and what was planted."""
