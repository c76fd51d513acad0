"""What is said of a bout: faults by rule, the one sentence, the contract."""
