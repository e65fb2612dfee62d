"""What a user states: scenarios, units, purchases, lists of patients, checked and frozen."""
