"""Values, limits, findings and the ledger: what an assessment hands on."""
