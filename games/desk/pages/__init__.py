"""The desk's pages: patients, one patient, collecting, settings."""
