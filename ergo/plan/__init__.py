"""From one assessment to decisions: the smallest team, how sure we are, a unit's shift, a purchase."""
