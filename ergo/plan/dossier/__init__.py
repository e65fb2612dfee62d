"""The dossier: published cases predicted by the model, and what that lets us claim."""
