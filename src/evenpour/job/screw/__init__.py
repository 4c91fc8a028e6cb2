"""The mixture screw of a job: its ledger, the move advised, and the words for both."""
