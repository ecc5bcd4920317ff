"""The desk's page: review, record, search, intake, and a phone's way in. It listens here alone."""
