"""What each thing is said of: values to fields, states to their subjects."""
