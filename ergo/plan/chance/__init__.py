"""How sure an answer is: uncertain inputs drawn, tables that judge a hundred thousand draws, drivers, site friction."""
