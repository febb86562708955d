"""The adapter as the sections see it: what two or more of them draw from one dossier."""
