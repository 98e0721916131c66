"""A test that is being planned or done: plan, live entry, remarks."""
