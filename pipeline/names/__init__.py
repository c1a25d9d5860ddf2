"""Whose line it is and which lift: spellings in exports to clients and catalogue exercises."""
